"""Blocks of a DXF: how many pieces a file holds once they are resolved, before any is resolved."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from models.drawings.limits import DEEPEST_NESTING, MOST_PIECES, DrawingRefusedError


class BlockCount:
    """Counts the pieces of a DXF document without resolving a block; refuses circles of blocks."""

    def __init__(self, document: Any) -> None:
        self.blocks = document.blocks
        self._known: dict[str, tuple[int, int]] = {}
        self._open: list[str] = []

    def check(self, entities: Iterable[Any]) -> int:
        """Return how many pieces entities hold with their blocks; refuse too many or too deep."""
        pieces, depth = self._count(entities)
        if depth > DEEPEST_NESTING:
            raise _too_deep()
        if pieces > MOST_PIECES:
            raise DrawingRefusedError(
                f"With all its blocks and arrays this drawing has {_roughly(pieces)} corners and "
                f"curves; {MOST_PIECES:,} at most are read. Save a copy that holds only the "
                "outlines you need."
            )
        return pieces

    def _count(self, entities: Iterable[Any]) -> tuple[int, int]:
        pieces, depth = 0, 0
        for entity in entities:
            if entity.dxftype() != "INSERT":
                pieces += weight(entity)
                continue
            inside, deep = self._of_block(str(entity.dxf.get("name", "")))
            pieces += copies(entity) * (inside + 1)
            depth = max(depth, deep + 1)
        return pieces, depth

    def _of_block(self, name: str) -> tuple[int, int]:
        key = name.lower()
        if key in self._known:
            return self._known[key]
        if key in self._open:
            raise DrawingRefusedError(
                f"The block “{name[:40]}” contains itself, so the drawing has no end. Mend it "
                "where it was drawn, or save a copy with all blocks exploded."
            )
        if len(self._open) >= DEEPEST_NESTING:
            raise _too_deep()
        block = self.blocks.get(name)
        self._open.append(key)
        self._known[key] = self._count(block) if block is not None else (0, 0)
        self._open.pop()
        return self._known[key]


def copies(insert: Any) -> int:
    """Return how often a block is placed: rows times columns of an array, 1 without one."""
    rows = max(1, int(insert.dxf.get("row_count", 1)))
    columns = max(1, int(insert.dxf.get("column_count", 1)))
    return rows * columns


def weight(entity: Any) -> int:
    """Return how many pieces one entity counts as: the corners of a polyline, else 1."""
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        return max(1, len(entity))
    if kind == "POLYLINE":
        return max(1, len(entity.vertices))
    if kind == "SPLINE":
        return max(1, len(entity.control_points), len(entity.fit_points))
    return 1


def _too_deep() -> DrawingRefusedError:
    return DrawingRefusedError(
        f"Blocks lie inside blocks more than {DEEPEST_NESTING} deep. Save a copy with its blocks "
        "exploded."
    )


def _roughly(number: int) -> str:
    return f"{number:,}" if number < 10**9 else f"about {float(min(number, 10**300)):.0e}"
