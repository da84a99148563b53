"""A search for arrangements as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.trade.arranging_words import (
    change_words,
    corner_words,
    shift_words,
    verdict_words,
)
from models.units import UnitSystem, show

MOST_LINES = 20


def arrangements_text(found: Mapping[str, Any], system: UnitSystem) -> str:
    """Return the verdict, then the best arrangements or the least changes, a line each."""
    lines = [f"{found['name']}: {verdict_words(found, system)[1]}", ""]
    for number, entry in enumerate(found["arrangements"][:MOST_LINES], start=1):
        area = show(entry["support_area_m2"], "m2", system)
        margin = show(entry["worst_clearance_margin_m"], "m", system, small=True, signed=True)
        base = show(entry["wheelbase_m"], "m", system)
        lines.append(
            f"{number:4}  support {area}, margin {margin}, wheelbase {base}: "
            f"{corner_words(entry['corners'], system)}"
        )
    more = found["feasible"] - MOST_LINES
    if found["steered"] and more > 0:
        lines.append(f"      and {more} more")
    for entry in found["nearest"]:
        lines.append(f"With {corner_words(entry['corners'], system)}:")
        lines += [f"  {change_words(change, system)}." for change in entry["changes"]]
    if found["changes"] and found["shifts"]:
        lines.append("Either the keep-outs give way:")
    lines += [f"  {change_words(change, system)}." for change in found["changes"]]
    if found["changes"] and found["shifts"]:
        lines.append("or the base's own bodies:")
    lines += [f"  {shift_words(shift, system)}." for shift in found["shifts"]]
    return "\n".join(lines).rstrip() + "\n"
