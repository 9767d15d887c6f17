"""The dashboard."""
