"""The page of pushing, shoving and dead parts."""
