"""The side-by-side table as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any

from models.quantities import METRICS
from models.units import UnitSystem, display_unit

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def comparison_csv(payload: Mapping[str, Any]) -> str:
    """Return an evaluation as CSV: a row a figure, a column a candidate, SI units, full digits.

    A truth value stands as yes or no; what does not exist for a candidate stays empty.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    candidates = payload["candidates"]
    heads = [f"{candidate['name']} ({candidate['key']})" for candidate in candidates]
    writer.writerow([safe_cell(cell) for cell in ["figure", "key", "unit", *heads]])
    for row in _rows(candidates):
        writer.writerow([safe_cell(cell) for cell in row])
    return text.getvalue()


def safe_cell(value: Any) -> str:
    """Return a cell's text; text that a spreadsheet would run as a formula gets a leading '.

    Numbers, negative ones too, stay as they are.

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
    return f"'{text}" if text.startswith(FORMULA_STARTS) and not _is_number(text) else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _rows(candidates: list[Mapping[str, Any]]) -> Iterator[list[Any]]:
    for key, metric in METRICS.items():
        figures = [candidate["metrics"].get(key) for candidate in candidates]
        yield [metric.name, key, display_unit(metric.unit, UnitSystem.SI), *figures]
    routes = list(dict.fromkeys(name for one in candidates for name in one["routes"]))
    for name in routes:
        timed = [candidate["routes"].get(name, {}) for candidate in candidates]
        yield [f"{name}: time", "route time_s", "s", *(route.get("time_s") for route in timed)]
        if any(route.get("cycles") is not None for route in timed):
            yield [f"{name}: cycles in a match", "route cycles", "",
                   *(route.get("cycles") for route in timed)]  # fmt: skip
        if any(route.get("margin_s") is not None for route in timed):
            yield [f"{name}: time left", "route margin_s", "s",
                   *(route.get("margin_s") for route in timed)]  # fmt: skip
