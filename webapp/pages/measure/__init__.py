"""The page of constants and simple tests, and what becomes of their results."""
