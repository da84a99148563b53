"""The side-by-side table as a workbook (XLSX): numbers are numbers, text is never a formula."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from datetime import UTC
from itertools import chain
from typing import TYPE_CHECKING, Any

from models.services import StudyState
from webapp.shared.figure_rows import FigureRow, column_heads, figure_rows

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

LEAD_COLUMNS = ("Figure", "Unit", "Key")
LONGEST_TEXT = 32_000
"""A cell takes 32,767 characters."""


def comparison_xlsx(payload: Mapping[str, Any], state: StudyState) -> bytes:
    """Return an evaluation as a workbook: the figures, and a sheet about where they come from.

    A row is a figure in SI units; a candidate takes one column, and two more for the range of its
    figures where any of them has one. Numbers, truths and dates keep their type; what does not
    exist for a candidate stays empty.
    """
    from openpyxl import Workbook  # noqa: PLC0415  (heavy)

    book = Workbook()
    book.properties.creator = "Switchover"
    book.properties.title = clean_text(state.study.name)
    book.properties.created = state.revision.saved_at.astimezone(UTC).replace(tzinfo=None)
    figures = book.worksheets[0]
    figures.title = "Figures"
    _fill_figures(figures, payload["candidates"])
    _fill_about(book.create_sheet("About"), payload, state)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def clean_text(text: str) -> str:
    """Return text without the characters that a workbook cannot hold.

    >>> clean_text("a\\x00b\\nc\\x0b")
    'a b c '
    """
    kept = "".join(sign if sign.isprintable() else " " for sign in text)
    return kept.encode("utf-8", "replace").decode()[:LONGEST_TEXT]


def put(cell: Cell, value: Any) -> None:
    """Write a value with its own type; text as text, whatever it begins with."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return
    if isinstance(value, bool | int | float):
        cell.value = value
        return
    cell.value = clean_text(str(value))
    cell.data_type = "s"
    cell.quotePrefix = True


def _fill_figures(sheet: Worksheet, candidates: Sequence[Mapping[str, Any]]) -> None:
    from openpyxl.styles import Alignment, Font  # noqa: PLC0415  (heavy)
    from openpyxl.utils import get_column_letter  # noqa: PLC0415  (heavy)

    rows = list(figure_rows(candidates))
    ranged = any(span is not None for row in rows for span in row.ranges)
    heads = [*LEAD_COLUMNS, *_heads(candidates, ranged=ranged)]
    for column, head in enumerate(heads, start=1):
        cell = sheet.cell(1, column)
        put(cell, head)
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        sheet.column_dimensions[get_column_letter(column)].width = 20
    for place, row in enumerate(rows, start=2):
        for column, value in enumerate(_values(row, ranged=ranged), start=1):
            put(sheet.cell(place, column), value)
    sheet.column_dimensions["A"].width = 44
    sheet.column_dimensions["B"].width = 10
    sheet.freeze_panes = "D2"
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(heads))}{len(rows) + 1}"
    sheet.print_title_rows = "1:1"


def _heads(candidates: Sequence[Mapping[str, Any]], *, ranged: bool) -> list[str]:
    heads = column_heads(candidates)
    if not ranged:
        return heads
    return list(chain.from_iterable((head, f"{head}: from", f"{head}: to") for head in heads))


def _values(row: FigureRow, *, ranged: bool) -> list[Any]:
    values = list(row.values)
    if ranged:
        spans = [(None, None) if span is None else span for span in row.ranges]
        pairs = zip(row.values, spans, strict=True)
        values = list(chain.from_iterable((value, *span) for value, span in pairs))
    return [row.name, row.unit, row.key, *values]


def _fill_about(sheet: Worksheet, payload: Mapping[str, Any], state: StudyState) -> None:
    names = {one["key"]: one["name"] for one in payload["candidates"]}
    draws = int(payload.get("draws", 0))
    lines = [
        ("Study", state.study.name),
        ("Revision", state.revision.number),
        ("Saved", state.revision.saved_at.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")),
        ("By", state.revision.author or "not given"),
        ("Hash of the document", state.revision.hash),
        ("Model", str(payload["model_version"])),
        ("Today's base", names[payload["baseline"]]),
        ("Units", "SI, in the column Unit of each row"),
        ("Empty cell", "there is no such figure"),
        ("All figures", "are estimates; measure before you build on them"),
    ]
    if draws:
        words = f"where the figure lies in eight of ten of {draws} draws of the uncertain inputs"
        lines.append(("From, to", words))
    for place, (name, value) in enumerate(lines, start=1):
        put(sheet.cell(place, 1), name)
        put(sheet.cell(place, 2), value)
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 76
