"""Shared links of a study: make, list, revoke."""
