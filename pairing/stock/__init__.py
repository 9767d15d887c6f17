"""Lots of bottles and bags, what is left in them, and whether that is enough: pure functions."""
