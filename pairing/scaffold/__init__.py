"""Templates for a new plugin."""
