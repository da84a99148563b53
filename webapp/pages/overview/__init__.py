"""The overview of a study."""
