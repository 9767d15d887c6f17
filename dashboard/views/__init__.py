"""One page each."""
