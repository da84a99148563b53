"""A match on a battery as text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from models.study.schema import Study
from models.trade.match import NO_BATTERY
from models.trade.slots import slots_of
from models.trade.wiring import HOLDS

WIDTH = 78


def match_text(study: Study, payload: Mapping[str, Any], wiring: Mapping[str, Any]) -> str:
    """Return each candidate's match in a few lines, then the warnings on breakers and cables."""
    shown = next(one for one in payload["batteries"] if one["name"] == payload["battery"])
    lines = [
        study.name,
        f"A match of {payload['match_s']:g} s on “{shown['name']}”: {shown['open_circuit_v']:.2f} "
        f"V at rest, {1000 * shown['internal_resistance_ohm']:.1f} mΩ; brownout at "
        f"{payload['brownout_v']:g} V.",
    ]
    breakers = {one["key"]: one["breakers"] for one in wiring["candidates"]}
    for one in payload["candidates"]:
        lines += ["", f"{one['letter']} {one['name']}"]
        for line in _candidate(study, payload, one, breakers[one["key"]]):
            lines += textwrap.wrap(line, WIDTH, initial_indent="  ", subsequent_indent="    ")
    if wiring["warnings"]:
        lines.append("")
    for warning in wiring["warnings"]:
        lines += textwrap.wrap(
            f"! {warning['text']} {warning['advice']}", WIDTH, subsequent_indent="  "
        )
    lines += ["", "The cut of a controller is not followed. Estimates only."]
    return "\n".join(lines) + "\n"


def _candidate(
    study: Study, payload: Mapping[str, Any], one: Mapping[str, Any], breakers: list[dict[str, Any]]
) -> Iterator[str]:
    match = one["match"]
    if match["able"]:
        yield from _match(payload, match)
    else:
        yield str(match["reason"])
    sprint, push = one["sprint"], one["push"]
    least = sprint["min_voltage_v"]
    yield (
        f"Lowest in the sprint: {'none' if least is None else f'{least:.1f} V'}; in a push: "
        f"{push['voltage_v']:.1f} V at {push['bus_current_a']:.0f} A."
    )
    worst = one["worst_battery"]
    if worst == NO_BATTERY:
        yield "No battery of the study keeps it above brownout in sprint and push."
    else:
        yield f"Worst battery that stays above brownout in sprint and push: “{worst}”."
    for row in breakers:
        if row["rating_a"] is not None and row["push_s"] is not None:
            holds = row["push_s"] == HOLDS
            says = "holds" if holds else f"opens after {row['push_s']:.0f} s"
            yield f"The {row['which']} breaker of {row['rating_a']:g} A {says} in a push."
    short = [
        f"{slot.name.lower()} ({-slot.free} short)"
        for slot in slots_of(study, study.candidate(one["key"]))
        if slot.free is not None and slot.free < 0
    ]
    if short:
        yield f"Too few: {', '.join(short)}."


def _match(payload: Mapping[str, Any], match: Mapping[str, Any]) -> Iterator[str]:
    where = match["min_where"]
    at = "between runs" if where["leg"] is None else f"leg {where['leg']} of {where['route']}"
    yield (
        f"{match['cycles']} cycles; lowest bus voltage {match['min_voltage_v']:.1f} V at "
        f"{match['min_at_s']:.1f} s ({at}, {where['part']})."
    )
    below = [f"{match['below_brownout_s']:.1f} s below brownout"]
    if payload["warning_v"] is not None:
        below.append(f"{match['below_warning_s']:.1f} s below {payload['warning_v']:g} V")
    yield ", ".join(below) + "."
    yield (
        f"Mean {match['mean_current_a']:.0f} A, root mean square {match['rms_current_a']:.0f} A, "
        f"greatest {match['peak_current_a']:.0f} A."
    )
    if match["left_share"] is not None:
        yield (
            f"Takes {match['charge_used_ah']:.2f} Ah; {100 * match['left_share']:.0f} % left of "
            f"the {match['usable_ah']:.1f} Ah that the battery gives at that mean."
        )
