"""Names of the files that people take away."""

from __future__ import annotations


def file_name(name: str) -> str:
    """Return a study's name as a file name that every system accepts.

    >>> file_name("Breakwater: should we change?")
    'breakwater-should-we-change'
    """
    plain = "".join(sign.lower() if sign.isascii() and sign.isalnum() else " " for sign in name)
    return "-".join(plain.split())[:60].strip("-") or "study"
