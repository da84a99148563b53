"""Small tables of figures, candidates side by side, for pages that compare a few."""
