"""A small study of our own, and a store of its own for every test, on either database."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, make_url, text

from models.services import Store, StudyState, create_study, open_store

SERVER = os.environ.get("TEST_DATABASE_URL", "")
"""A PostgreSQL database to run the storage and service tests on instead of SQLite files."""


def _candidate(key: str, name: str, ratio: object) -> dict[str, Any]:
    return {
        "key": key,
        "name": name,
        "layout": "tank",
        "drive": {"motor": "bl60", "motor_count": 4, "ratio": ratio, "efficiency": 0.9},
        "wheels": {
            "count": 4,
            "diameter_m": "4 in",
            "wheelbase_m": 0.55,
            "track_m": 0.51,
            "grip": {"value": 1.1, "low": 0.9, "high": 1.3, "source": "assumed"},
        },
        "frame": {"length_m": 0.7, "width_m": 0.66},
        "parts": [
            {
                "name": "drive base",
                "mass_kg": 18.0,
                "centre_m": [0, 0, 0.09],
                "size_m": [0.7, 0.66, 0.1],
            }
        ],
    }


@pytest.fixture
def document() -> dict[str, Any]:
    """A study with two candidates, as it would be typed."""
    return {
        "format": "switchover-study",
        "version": 1,
        "name": "Ridge robot",
        "notes": "Written in the pit.",
        "rules": {
            "mass_limit_kg": 56.0,
            "perimeter_limit_m": 3.05,
            "height_limit_m": 1.2,
            "autonomous_s": 15,
            "match_s": 150,
        },
        "power": {
            "open_circuit_v": 12.6,
            "internal_resistance_ohm": 0.016,
            "brownout_v": 6.8,
            "accessory_current_a": 8.0,
        },
        "yardsticks": {"sprint_distance_m": 6.0, "target_speed_mps": 3.0},
        "motors": {
            "bl60": {
                "name": "60 mm brushless",
                "nominal_v": 12,
                "free_speed_rpm": 5900,
                "free_current_a": 2.0,
                "stall_torque_nm": 4.2,
                "stall_current_a": 230,
            }
        },
        "robot": {
            "parts": [
                {
                    "name": "riser",
                    "mass_kg": 9.0,
                    "centre_m": [-0.05, 0, 0.55],
                    "size_m": [0.2, 0.5, 1.0],
                }
            ],
            "keepouts": [],
            "poses": [{"name": "stowed", "offsets": {}}],
        },
        "routes": [],
        "candidates": [
            {**_candidate("today", "Today's base", 9.5), "baseline": True},
            _candidate("quick", "Quicker gearing", 6.75),
        ],
    }


@pytest.fixture
def database_url(tmp_path: Path) -> Iterator[str]:
    """The address of an empty database: a file, or a schema of its own on the server."""
    if not SERVER:
        yield f"sqlite:///{tmp_path}/switchover.db"
        return
    schema = f"test_{secrets.token_hex(6)}"
    server = create_engine(SERVER)
    with server.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    options = {"options": f"-csearch_path={schema}"}
    yield make_url(SERVER).update_query_dict(options).render_as_string(hide_password=False)
    with server.begin() as connection:
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    server.dispose()


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    """An open store with no study in it."""
    opened = open_store(database_url)
    yield opened
    opened.close()


@pytest.fixture
def state(store: Store, document: dict[str, Any]) -> StudyState:
    """The study, saved once by Kim."""
    return create_study(store, document, author="Kim", note="First figures")


@pytest.fixture
def edited(document: dict[str, Any]) -> Callable[..., dict[str, Any]]:
    """Make the value of a candidate's section with another ratio, name or anything else."""

    def edit(key: str, ratio: object = None, **values: Any) -> dict[str, Any]:
        candidate = next(one for one in document["candidates"] if one["key"] == key)
        changed = {**candidate, **values}
        if ratio is not None:
            changed["drive"] = {**candidate["drive"], "ratio": ratio}
        return changed

    return edit
