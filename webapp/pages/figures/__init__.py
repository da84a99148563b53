"""The page that explains every figure."""
