"""Pushing, shoving matches and dead parts: for editors and viewers."""
