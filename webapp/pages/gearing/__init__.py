"""The page that tries ratios, wheels and current limits of a candidate."""
