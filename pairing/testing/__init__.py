"""Contract tests for plugin authors, and data with known answers."""
