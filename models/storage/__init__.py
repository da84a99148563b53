"""Tables, sessions and migrations: revisions that are appended and never changed."""

from models.storage.store import Store, open_store

__all__ = ["Store", "open_store"]
