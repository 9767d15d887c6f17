"""Numbers, units, label directions and drops as people write them: one reader for every door."""
