"""The example study that comes with the program."""

from __future__ import annotations

from typing import Any

from models.study import read_document
from webapp.paths import data_folder

EXAMPLE_FILE = "example-study.json"


def example_document() -> dict[str, Any]:
    """Return the document of the example study."""
    return read_document((data_folder("seed_data") / EXAMPLE_FILE).read_bytes())
