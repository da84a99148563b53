"""A QR code of an address as one SVG path, drawn on the server."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

QUIET = 4
"""Modules of white on each side that a reader needs (ISO/IEC 18004)."""
LONGEST = 600
"""Characters of an address that a code of 25 mm can still carry."""


@dataclass(frozen=True)
class Code:
    """A QR code: the width of its square in modules, quiet zone included, and its dark path."""

    size: int
    path: str
    address: str


@lru_cache(maxsize=256)
def code_of(address: str) -> Code | None:
    """Return the QR code of an address, None where it is too long to be read off paper.

    >>> code_of("http://localhost/shared/abc").size
    37
    """
    if len(address) > LONGEST:
        return None
    import segno  # noqa: PLC0415  (heavy)

    rows = segno.make(address, error="m", micro=False).matrix
    path = "".join(_runs(row, place + QUIET) for place, row in enumerate(rows))
    return Code(len(rows) + 2 * QUIET, path, address)


def _runs(row: bytearray, y: int) -> str:
    """Return the dark runs of one row as closed rectangles one module high."""
    parts, start = [], None
    for x, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            parts.append(f"M{start + QUIET} {y}h{x - start}v1h{start - x}z")
            start = None
    return "".join(parts)
