"""The revisions of a study: who, when, why, what changed between two, and restore."""
