"""A whole match on a battery: routes repeated with their loads, from the first second to the last.

The battery's charge falls from drive to drive, and its resting voltage and resistance with it;
within one drive of a route they stay as they were at its beginning. What the controller does when
the bus falls below its threshold, it cuts its outputs, is not followed: the figures say where and
for how long that would happen.

What `match_of` returns
-----------------------
`match_of(study, battery=None, keys=None)`: a dict, ready for JSON, None for what does not exist::

    battery       name of the battery that `match`, `sprint` and `push` stand for
    batteries     [{name, kind, open_circuit_v, internal_resistance_ohm, capacity_ah, charge,
                    temperature_c, in_use}]: every class, the power section's own figures first
    brownout_v, warning_v, match_s, autonomous_s, autonomous_route, cycle_routes
    loads         [{name, current_a, duty, during}]; accessory_a
    tables        [{name, source}]: where the battery's behaviour comes from
    candidates    [{key, name, letter, match, sprint, push, classes, worst_battery, day}]

`match` of a candidate::

    able, reason          whether its routes can be driven at all; a sentence where not
    autonomous_time_s     of the autonomous route; autonomous_fits; cycles (whole ones);
                          cycle_first_s, cycle_last_s
    min_voltage_v, min_at_s, min_where {period, route, leg (from 1), part (a word), from_s and
                          until_s (of that leg)}
    browns_out, below_warning_s, below_brownout_s
    mean_current_a, rms_current_a, peak_current_a, branch_rms_a and branch_peak_a (bus side of the
    hardest motor), motor_rms_a (its winding)
    charge_used_ah, usable_ah (what the battery gives at that mean current), beyond_table
    (whether that current lies beyond the table), taken_share and left_share (of that),
    resting_end_v (after a rest), energy_j (at its posts), battery_heat_j (inside it, besides)
    ledger                [{key, name, joules, share}] of all that leaves the battery; closing_share
    series                {time_s, voltage_v, current_a}: at most 600 points, lows and highs kept
    marks                 [{time_s, until_s, kind (autonomous, cycle, idle), route}]

`sprint`: `models.trade.match_yardsticks.sprints`; `push`: `pushes` there. `classes`: one row a
battery {battery, kind, sprint_min_v, push_min_v, match_min_v, below_brownout_s, left_share,
stays_above}. `worst_battery`: of those that stay above the brownout voltage in sprint and push the
one that comes closest to it; "none" where none does. `day`: {needed, owned, matches_on_a_charge,
known, too_much, sentence} by `models.trade.day`, None where the study describes no match day.

Contents
--------
match_of: every figure of every candidate.
class_rows, worst_above: every battery, and the worst that still stays above brownout.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from models.engineering.battery import (
    CAPACITY_BY_TEMPERATURE,
    HIGH_RATE,
    RESISTANCE_BY_CHARGE,
    RESISTANCE_BY_TEMPERATURE,
    RESTING_VOLTAGE,
)
from models.study.schema import Candidate, Study
from models.trade.battery import Battery, batteries_of, battery_in_use, battery_named
from models.trade.day import day_count
from models.trade.driving import base_of
from models.trade.match_figures import match_figures, series_of
from models.trade.match_legs import courses_of
from models.trade.match_plan import match_plan
from models.trade.match_timeline import matches_on, thresholds
from models.trade.match_yardsticks import pushes, sprints

NO_BATTERY = "none"
"""Word for a candidate that no battery keeps above the brownout voltage."""

TABLES = (
    ("Resting voltage against charge", RESTING_VOLTAGE.source),
    ("Resistance against charge", RESISTANCE_BY_CHARGE.source),
    ("Resistance against temperature", RESISTANCE_BY_TEMPERATURE.source),
    ("Capacity against temperature", CAPACITY_BY_TEMPERATURE.source),
    ("Capacity against current above 1 C", HIGH_RATE.source),
    (
        "Capacity against current up to 1 C",
        "Peukert's law in its rated form, exponent 1.2: common practice, no source",
    ),
)


def match_of(
    study: Study, battery: str | None = None, keys: Collection[str] | None = None
) -> dict[str, Any]:
    """Return the match, the sprint and the push of every candidate on every battery.

    Parameters
    ----------
    study : Study
        The study, already checked.
    battery : str, optional
        Name of the battery that the figures stand for; the one in use where left out.
    keys : collection of str, optional
        The candidates to follow; all where left out.

    Returns
    -------
    dict
        As the head of this module says.

    Raises
    ------
    NotFoundError
        Where no battery has that name.
    """
    shown = battery_in_use(study) if battery is None else battery_named(study, battery)
    known = batteries_of(study)
    plan = match_plan(study)
    wanted = [
        (index, one)
        for index, one in enumerate(study.candidates)
        if keys is None or one.key in keys
    ]
    bases: dict[str, dict[str, Any]] = {}
    for _, one in wanted:
        base = base_key(one)
        bases[base] = bases.get(base) or _followed(study, one, known, shown)
    warning, brownout = thresholds(study)
    names = [route.name for route in study.routes]
    return {
        "battery": shown.name,
        "batteries": [_battery(one, one.name == battery_in_use(study).name) for one in known],
        "brownout_v": brownout,
        "warning_v": None if study.power.warning_v is None else warning,
        "match_s": plan.match_s,
        "autonomous_s": plan.autonomous_s,
        "autonomous_route": None if plan.autonomous is None else names[plan.autonomous],
        "cycle_routes": [names[index] for index in plan.cycles],
        "accessory_a": float(study.power.accessory_current_a),
        "loads": [
            {
                "name": load.name,
                "current_a": float(load.current_a),
                "duty": float(load.duty),
                "during": load.during,
            }
            for load in study.power.loads
        ],
        "tables": [{"name": name, "source": source} for name, source in TABLES],
        "candidates": [
            {
                "key": one.key,
                "name": one.name,
                "letter": chr(ord("A") + index),
                **bases[base_key(one)],
            }
            for index, one in wanted
        ],
    }


def base_key(candidate: Candidate) -> str:
    """Return the key of the candidate whose base this one has; its own where it has its own."""
    return candidate.same_base_as or candidate.key


def _battery(battery: Battery, used: bool) -> dict[str, Any]:
    return {
        "name": battery.name,
        "kind": battery.kind,
        "open_circuit_v": battery.open_circuit_v,
        "internal_resistance_ohm": battery.internal_resistance_ohm,
        "capacity_ah": battery.capacity_ah,
        "charge": battery.charge,
        "temperature_c": battery.temperature_c,
        "in_use": used,
    }


def _followed(
    study: Study, candidate: Candidate, known: Sequence[Battery], shown: Battery
) -> dict[str, Any]:
    """Return what a base gives on every battery; candidates that keep it share the figures."""
    courses = courses_of(study, candidate, base_of(study, candidate))
    runs = matches_on(study, known, courses)
    matches = [match_figures(study, run) for run in runs]
    driven, pushed = sprints(study, courses, known), pushes(study, courses, known)
    at = list(known).index(shown)
    classes = [
        {
            **row,
            "match_min_v": matches[i]["min_voltage_v"],
            "below_brownout_s": matches[i]["below_brownout_s"],
            "left_share": matches[i]["left_share"],
        }
        for i, row in enumerate(class_rows(study, known, driven, pushed))
    ]
    return {
        "match": {**matches[at], **series_of(study, runs[at])},
        "sprint": driven[at],
        "push": pushed[at],
        "classes": classes,
        "worst_battery": worst_above(classes),
        "day": _day(study, shown, matches[at]["taken_share"]),
    }


def _day(study: Study, battery: Battery, taken: float | None) -> dict[str, Any] | None:
    day = study.power.day
    if day is None:
        return None
    return day_count(day, charge=battery.charge, taken=taken)._asdict()


def class_rows(
    study: Study,
    known: Sequence[Battery],
    driven: Sequence[dict[str, Any]],
    pushed: Sequence[dict[str, Any]],
) -> list[dict[str, Any]]:
    """Return what each battery falls to in sprint and push, and whether it stays above brownout.

    A drive that does not get going draws nothing in a sprint.
    """
    limit = float(study.power.brownout_v)
    rows = []
    for battery, sprint, push in zip(known, driven, pushed, strict=True):
        least = sprint["min_voltage_v"]
        above = push["min_voltage_v"] >= limit and (least is None or least >= limit)
        rows.append(
            {
                "battery": battery.name,
                "kind": battery.kind,
                "sprint_min_v": least,
                "push_min_v": push["min_voltage_v"],
                "stays_above": bool(above),
            }
        )
    return rows


def worst_above(classes: Sequence[dict[str, Any]]) -> str:
    """Return the battery that stays above brownout and comes closest to it, "none" if none does.

    >>> rows = [{"battery": "good", "stays_above": True, "sprint_min_v": 9.0, "push_min_v": 8.0},
    ...         {"battery": "tired", "stays_above": True, "sprint_min_v": 8.0, "push_min_v": 7.5}]
    >>> worst_above(rows)
    'tired'
    """
    above = [one for one in classes if one["stays_above"]]
    if not above:
        return NO_BATTERY

    def margin(one: dict[str, Any]) -> float:
        sprint = one["sprint_min_v"]
        return float(one["push_min_v"] if sprint is None else min(sprint, one["push_min_v"]))

    return str(min(above, key=margin)["battery"])
