"""First-party plugins, written on the same interface as anyone's."""
