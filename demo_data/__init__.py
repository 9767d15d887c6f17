"""The demo: a rowing club's kitchen, invented."""
