"""One file for each version of the schema. What stands here is never changed once it was released."""
