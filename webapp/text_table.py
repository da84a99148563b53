"""The side-by-side table as plain text, for the command line."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from models.study import Study
from models.trade.comparison import (
    Column,
    Comparison,
    Row,
    compare,
    difference_words,
    value_words,
)
from models.trade.verdict import verdict
from models.units import UnitSystem

NAME_WIDTH = 34
LEAST_COLUMN = 12
WIDEST_COLUMN = 24
GAP = "  "
KIND_MARKS = {"lead": "", "good": "✓ ", "watch": "! ", "bad": "✕ "}


def side_by_side(
    payload: Mapping[str, Any], study: Study, system: UnitSystem, *, width: int
) -> str:
    """Return an evaluation as text: the verdict, the figures by question, the notes.

    The candidates stand in as many columns as the width takes; the others follow below.
    """
    lines = [str(payload["study"]), ""]
    for sentence in verdict(payload, study, system):
        mark = KIND_MARKS.get(sentence.kind, "")
        lines += textwrap.wrap(mark + sentence.text, width, subsequent_indent="  ")
    comparison = compare(payload)
    for columns in _blocks(comparison, width):
        lines += ["", *_block(comparison, columns, system, width)]
    lines += _notes(payload, width)
    lines += ["", f"Model {payload['model_version']}. All figures are estimates."]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _blocks(comparison: Comparison, width: int) -> Iterator[Sequence[Column]]:
    columns = comparison.columns
    most = max(1, (width - NAME_WIDTH) // (LEAST_COLUMN + 4 + len(GAP)))
    for start in range(0, len(columns), most):
        yield columns[start : start + most]


def _block(
    comparison: Comparison, columns: Sequence[Column], system: UnitSystem, width: int
) -> list[str]:
    room = (width - NAME_WIDTH) // len(columns) - len(GAP)
    cell_width = max(LEAST_COLUMN, min(WIDEST_COLUMN, room))
    heads = [f"{c.letter} {c.name}{' (today)' if c.baseline else ''}" for c in columns]
    lines = _lines("", [_wrapped(head, cell_width) for head in heads], cell_width)
    lines.append("-" * (NAME_WIDTH + len(columns) * (cell_width + len(GAP))))
    for group in comparison.groups:
        lines.append(group.words)
        for row in group.rows:
            lines += _row_lines(row, columns, system, cell_width)
    return lines


def _row_lines(
    row: Row, columns: Sequence[Column], system: UnitSystem, cell_width: int
) -> list[str]:
    cells = [row.cell(column.key) for column in columns]
    values = [value_words(row, cell, system) + (" *" if cell.best else "") for cell in cells]
    differences = [difference_words(row, cell, system) for cell in cells]
    if all(words in ("", "same") for words in differences):
        differences = [""] * len(cells)
    return _lines(
        f"  {row.metric.name}",
        [
            [*_wrapped(value, cell_width), *_wrapped(difference, cell_width)]
            for value, difference in zip(values, differences, strict=True)
        ],
        cell_width,
    )


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) or [""]


def _lines(name: str, cells: Sequence[Sequence[str]], cell_width: int) -> list[str]:
    """Return one row of the table, as many lines as its fullest cell needs."""
    name_lines = textwrap.wrap(name, NAME_WIDTH - 1, subsequent_indent="    ") or [""]
    columns = [(name_lines, NAME_WIDTH), *((cell, cell_width) for cell in cells)]
    lines = []
    for level in range(max(len(cell) for cell, _ in columns)):
        first, *others = (
            (cell[level] if level < len(cell) else "").ljust(width) for cell, width in columns
        )
        lines.append((first + GAP.join(others)).rstrip())
    while lines and not lines[-1]:
        lines.pop()
    return lines


def _notes(payload: Mapping[str, Any], width: int) -> list[str]:
    lines = ["", "* best of its row, ties included"]
    for candidate in payload["candidates"]:
        if candidate["notes"]:
            lines += ["", f"{candidate['letter']} {candidate['name']}: notes"]
        for note in candidate["notes"]:
            lines += textwrap.wrap(f"- {note}", width, subsequent_indent="  ")
    return lines
