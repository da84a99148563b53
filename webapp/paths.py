"""Find the data folders, in a checkout and in an installed wheel alike."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import platformdirs

PACKAGE = Path(__file__).resolve().parent
"""The folder of the `webapp` package; its templates lie in it."""


def data_folder(name: str) -> Path:
    """Return the folder `name` ("static", "seed_data") of this installation.

    A wheel carries the folders inside the package, a checkout beside it; the wheel is looked at
    first, because a folder called `static` beside site-packages would be somebody else's.

    >>> data_folder("static").name
    'static'
    """
    for folder in (PACKAGE / "_data" / name, PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"This installation has no folder {name}.")


def user_data_folder() -> Path:
    """Return the folder that holds a user's studies when no database is named; make it."""
    folder = Path(platformdirs.user_data_dir("switchover", appauthor=False))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def program_version() -> str:
    """Return the installed version, or "checkout" where the project is not installed."""
    try:
        return version("switchover")
    except PackageNotFoundError:
        return "checkout"
