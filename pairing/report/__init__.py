"""Recipe cards and trial reports."""
