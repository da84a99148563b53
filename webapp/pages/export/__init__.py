"""Files to take away: the study as JSON, the side-by-side table as CSV."""
