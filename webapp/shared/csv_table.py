"""The side-by-side table as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from webapp.shared.figure_rows import column_heads, figure_rows

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What a spreadsheet takes for the beginning of a formula, full-width forms too."""


def comparison_csv(payload: Mapping[str, Any]) -> str:
    """Return an evaluation as CSV: a row a figure, a column a candidate, SI units, full digits.

    A truth value stands as yes or no; what does not exist for a candidate stays empty.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    candidates = payload["candidates"]
    heads = ["figure", "key", "unit", *column_heads(candidates)]
    writer.writerow([safe_cell(cell) for cell in heads])
    for row in figure_rows(candidates):
        writer.writerow([safe_cell(cell) for cell in (row.name, row.key, row.unit, *row.values)])
    return text.getvalue()


def safe_cell(value: Any) -> str:
    """Return a cell's text; text that a spreadsheet would run as a formula gets a leading '.

    Numbers, negative ones too, stay as they are. Spaces before a formula do not hide it.

    >>> safe_cell(-3.5), safe_cell("=1+1"), safe_cell(None), safe_cell(True)
    ('-3.5', "'=1+1", '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    begins = text.startswith(FORMULA_STARTS) or text.lstrip().startswith(FORMULA_STARTS)
    return f"'{text}" if begins and not _is_number(text) else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
