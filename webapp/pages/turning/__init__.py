"""The page of turning and of all directions."""
