"""What the power page needs: every battery, the sag in pictures, energy, loads, the day."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from models.errors import NotFoundError
from models.study.schema import Study
from models.trade.battery import OWN_FIGURES
from models.trade.day import DayCount, day_count
from models.units import UnitSystem, quoted, show
from webapp.shared.candidates import marks_of
from webapp.shared.charts.context import SHOWN_AT_MOST, shown_marks
from webapp.shared.links import StudyLinks
from webapp.shared.power.pictures import (
    current_axis,
    match_picture,
    push_picture,
    sag_axis,
    sprint_picture,
)
from webapp.shared.power.tables import (
    battery_rows,
    day_rows,
    energy_table,
    load_rows,
    own_rows,
)
from webapp.shared.power.words import (
    Driven,
    battery_called,
    battery_shown,
    day_words,
    lead_words,
    left_words,
    protection_words,
    where_words,
    worst_words,
)


def power_context(
    payload: dict[str, Any],
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    candidate: str | None = None,
    shown: Sequence[str] | None = None,
) -> dict[str, Any]:
    """Return what `shared/power/power.html` shows.

    Parameters
    ----------
    payload : dict
        What `power_of` returned for the battery that is shown.
    study : Study
        The study.
    links : StudyLinks
        An editor's or a viewer's.
    system : UnitSystem
        Units in which figures are shown.
    candidate : str, optional
        Whose match is drawn; the one that falls lowest where left out.
    shown : sequence of str, optional
        Keys of the candidates in the tables.
    """
    if candidate is not None and all(one.key != candidate for one in study.candidates):
        raise NotFoundError(f"The study has no candidate with the key {quoted(candidate[:60])}.")
    marks = shown_marks(study, shown, candidate)
    ones = _driven(payload, study, marks)
    brownout, warning = float(payload["brownout_v"]), payload["warning_v"]
    full = max(float(one["open_circuit_v"]) for one in payload["batteries"])
    volts, amperes = sag_axis(ones, brownout, full), current_axis(ones)
    limits = {"brownout": brownout, "warning": warning}
    picked = _picked(ones, candidate)
    kept = None if shown is None else [mark.key for mark in marks]
    used = next(one["name"] for one in payload["batteries"] if one["in_use"])
    lead = lead_words(ones, payload["battery"], brownout, system)
    return {
        "marks": marks,
        "driven": ones,
        "choices": marks_of(study),
        "most": SHOWN_AT_MOST,
        "address": links.power(),
        "battery": payload["battery"],
        "battery_words": battery_called(payload["battery"]),
        "used": used,
        "used_words": battery_called(used),
        "looking": payload["battery"] != used,
        "batteries": [(one["name"], battery_shown(one["name"])) for one in payload["batteries"]],
        "named": len(payload["batteries"]) > 1,
        "own_figures": OWN_FIGURES,
        "lead": lead,
        "after": [words for words in (
            worst_words(ones, brownout), left_words(ones, warning is not None, system),
            day_words(ones),
        ) if words],
        "own_rows": own_rows(ones, payload, system),
        "classes": battery_rows(ones, payload, links, system, kept=kept),
        "sprint_plot": sprint_picture(ones, volts, amperes, **limits),
        "push_plot": push_picture(ones, volts, amperes, **limits),
        "winds_up": any(
            one.figures["push"]["min_voltage_v"] < one.figures["push"]["voltage_v"] - 0.05
            for one in ones
        ),
        "sprint_m": show(float(study.yardsticks.sprint_distance_m), "m", system),
        "driver_loads": any(load["during"] in ("always", "driver") for load in payload["loads"]),
        "load_words": show(ones[0].figures["push"]["load_a"], "a", system, digits=2),
        **_match(picked, payload, links, system, ones, volts=volts, amperes=amperes, kept=kept),
        "energy": energy_table(ones),
        "loads": load_rows(study, payload, system),
        "day": study.power.day,
        "day_facts": _day_facts(study, system),
        "day_rows": day_rows(ones),
        "protection": protection_words(brownout, warning, system),
        "tables": payload["tables"],
    }  # fmt: skip


def _driven(payload: dict[str, Any], study: Study, marks: Sequence[Any]) -> list[Driven]:
    """Return the candidates that are shown, with their rows of the battery that is shown."""
    place = [one["name"] for one in payload["batteries"]].index(payload["battery"])
    charge = float(payload["batteries"][place]["charge"])
    by_key = {one["key"]: one for one in payload["candidates"]}
    found = []
    for mark in marks:
        figures = by_key[mark.key]
        day: DayCount | None = None
        if study.power.day is not None:
            taken = figures["match"]["taken_share"]
            day = day_count(study.power.day, charge=charge, taken=taken)
        found.append(Driven(mark, figures, figures["classes"][place], day))
    return found


def _picked(ones: Sequence[Driven], candidate: str | None) -> Driven:
    """Return whose match is drawn."""
    for one in ones:
        if one.mark.key == candidate:
            return one
    able = [one for one in ones if one.figures["match"]["able"]] or list(ones)
    return min(able, key=lambda one: one.row["match_min_v"] or 0.0)


def _match(
    picked: Driven,
    payload: dict[str, Any],
    links: StudyLinks,
    system: UnitSystem,
    ones: Sequence[Driven],
    *,
    kept: list[str] | None,
    **axes: Any,
) -> dict[str, Any]:
    """Return the picture of a match and its words."""
    match = picked.figures["match"]
    words = ""
    if match["able"]:
        place = where_words(match, system)
        lowest = show(match["min_voltage_v"], "v", system, decimals=2)
        words = f"Its lowest is {lowest} {place}."
        if match["autonomous_fits"] is False:
            words += (
                f" “{payload['autonomous_route']}” takes it longer than the autonomous period, so "
                "it waits there."
            )
        if match["beyond_table"]:
            words += (
                " Its mean current lies beyond the table of what such a battery gives: take the "
                "charge left as a guess."
            )
    return {
        "picked": picked.mark,
        "picks": [(one.mark, links.power(payload["battery"], one.mark.key, kept)) for one in ones],
        "match": match,
        "match_words": words,
        "match_plot": match_picture(picked, payload=payload, **axes),
        "cycle_routes": payload["cycle_routes"],
        "autonomous_route": payload["autonomous_route"],
    }


def _day_facts(study: Study, system: UnitSystem) -> list[tuple[str, str]]:
    """Return what the count of batteries starts from."""
    day = study.power.day
    if day is None:
        return []
    kept = day.charge_kept_share
    return [
        ("Matches", f"{day.matches}"),
        ("From match to match", show(float(day.minutes_between), "min", system, digits=2)),
        ("A charge takes", show(float(day.charge_hours), "h", system, digits=2)),
        ("Batteries there", f"{day.batteries_owned}"),
        ("Charge kept when it comes off",
         "none" if kept is None else show(float(kept), "share", system, decimals=0)),
    ]  # fmt: skip
