"""What the log teaches: needed doses and liking."""
