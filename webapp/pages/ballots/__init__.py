"""Calls for ballots of a study: open one, see what was said, close it."""
