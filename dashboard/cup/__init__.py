"""The cup in hand: what happened to it, what is asked next, and how it looks."""
