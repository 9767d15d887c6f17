"""Finding, checking and guarding plugins."""
