"""Tables, sessions and migrations: revisions that are appended and never changed."""
