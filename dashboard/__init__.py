"""The dashboard: for a phone beside the scale, and a desk afterwards."""
