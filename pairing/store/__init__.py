"""Tables kept on disk: database, import and export."""
