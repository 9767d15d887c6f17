"""The pairing graph: what goes with what, and how sure that is."""
