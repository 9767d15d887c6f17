"""Learning from the logs of many kitchens: see POOLING.md beside this file."""
