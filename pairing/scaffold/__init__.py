"""Templates for a new plugin, and what writes them out."""
