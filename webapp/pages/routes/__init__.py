"""Routes over the field: drawn, timed for every candidate, edited."""
