"""An evening at the table: which cups, in which order, with what between them, and how much everybody drinks."""
