"""Frozen value objects, checked when made."""
