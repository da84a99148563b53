"""The page that searches for an arrangement that fits."""
