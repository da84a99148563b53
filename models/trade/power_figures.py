"""Figures of the catalogue that come from a match on the battery in use, for every candidate.

Contents
--------
power_figures: by candidate and metric.
"""

from __future__ import annotations

from collections.abc import Collection

from models.study.schema import Candidate, Study
from models.trade.battery import Battery, batteries_of, battery_in_use
from models.trade.day import day_count
from models.trade.driving import base_of
from models.trade.match import base_key, class_rows, worst_above
from models.trade.match_figures import match_figures
from models.trade.match_legs import courses_of
from models.trade.match_timeline import matches_on
from models.trade.match_yardsticks import pushes, sprints
from models.trade.slots import slots_of

Value = float | str | bool | None


def power_figures(study: Study, keys: Collection[str] | None = None) -> dict[str, dict[str, Value]]:
    """Return every metric that is made by the power side, by candidate and metric.

    Parameters
    ----------
    study : Study
        The study, already checked.
    keys : collection of str, optional
        The candidates wanted; all where left out.

    Returns
    -------
    dict
        `{candidate key: {metric key: value}}`; None for what does not exist.
    """
    battery, known = battery_in_use(study), batteries_of(study)
    wanted = [one for one in study.candidates if keys is None or one.key in keys]
    bases: dict[str, dict[str, Value]] = {}
    for one in wanted:
        base = base_key(one)
        bases[base] = bases.get(base) or _figures(study, one, battery, known)
    return {one.key: dict(bases[base_key(one)]) for one in wanted}


def _figures(
    study: Study, candidate: Candidate, battery: Battery, known: tuple[Battery, ...]
) -> dict[str, Value]:
    courses = courses_of(study, candidate, base_of(study, candidate))
    match = match_figures(study, matches_on(study, [battery], courses)[0])
    rows = class_rows(study, known, sprints(study, courses, known), pushes(study, courses, known))
    left: float | None = match["left_share"]
    needed: int | None = None
    if study.power.day is not None:
        taken = match["taken_share"]
        needed = day_count(study.power.day, charge=battery.charge, taken=taken).needed
    return {
        "match_min_voltage_v": match["min_voltage_v"],
        "match_below_warning_s": (
            None if study.power.warning_v is None else match["below_warning_s"]
        ),
        "match_below_brownout_s": match["below_brownout_s"],
        "match_charge_share": left,
        "match_mean_current_a": match["mean_current_a"],
        "worst_battery": worst_above(rows),
        "batteries_for_day": needed,
        **{f"{slot.key}_free": slot.free for slot in slots_of(study, candidate)},
    }
