"""Migrations of the database, run by `models.storage.migrating` whenever a store is opened."""

from __future__ import annotations

from alembic.config import Config
from sqlalchemy import Connection


def configuration(connection: Connection) -> Config:
    """Alembic's configuration for one open connection, whose transaction it then uses."""
    config = Config()
    config.set_main_option("script_location", "models.storage:migrations")
    config.attributes["connection"] = connection
    return config
