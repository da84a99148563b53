"""Protection and wiring: when breakers open, what cables drop and stand, what protects what.

What `wiring_of` returns
------------------------
`wiring_of(study, power)`, `power` being what `models.trade.match.match_of` returned::

    main          {rating_a, curve [[multiple, seconds]…], holds_a, double_s (how long it carries
                    double its rating), cables_ohm, typed_ohm, verdict}
    branch        {rating_a, curve, holds_a, double_s}
    cables        [{name, runs, gauge_awg, area_mm2, length_m, temperature_c, resistance_ohm,
                    steady_a (what it carries for ever in free air), too_slow_a, breaker_s,
                    cable_s (where its breaker opens too late: current, both times; else None)}]
    candidates    [{key, name, letter, branch_ohm, verdict, breakers, cables, slots}]
    warnings      [{key (a candidate's, None for all), text, advice}]
    sources       [{name, source}]

`holds_a`: the current up to which a breaker never opens, the first point of its curve; without a
curve its rating. `breakers` of a candidate: [{which (main, branch), rating_a, push_a, push_s,
rms_a, rms_s, peak_a, peak_s}], seconds until it opens from cold; `None` where the curve or the
current is missing, `"holds"` where it never opens. `cables` of a candidate: [{name, peak_a,
peak_drop_v, rms_a, heat_w_per_m}]: main cables with the battery's current, branch cables with that
of the hardest motor. `slots`: [{key, name, there, stays, takes, typed, free}] by
`models.trade.slots`. `verdict`: a sentence on whether the typed resistance fits the cables, "" if
there are none.

Contents
--------
wiring_of: all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

import numpy as np

from models.engineering.breakers import trip_time
from models.engineering.cables import (
    AIR,
    INSULATION_LIMIT,
    heat_per_metre,
    loop_resistance,
    steady_current,
    time_to_temperature,
    wire_area,
)
from models.study.power import Cable, Power
from models.study.schema import Candidate, Study
from models.trade.slots import slots_of

HOLDS = "holds"
"""Stands for the time of a breaker that never opens at a current."""

LEAST_OF_CABLES, MOST_OF_CABLES = 0.9, 4.0
"""A typed resistance below and above these multiples of the cables' alone is odd: plugs, fuses and
breakers add to it, not more than a few times (common practice, no source)."""

SOURCES = (
    ("Diameter and area of a gauge", "ASTM B258"),
    ("Copper: 1/58 Ω·mm²/m at 20 °C, 0.393 % for each kelvin", "IEC 60028"),
    (
        "Steady current of a wire in free air of 30 °C, insulation for 90 °C",
        "National Electrical Code, table 310.17, from memory",
    ),
    ("Time to heat a wire to 90 °C without cooling", "IEC 60364-5-54, own constants of copper"),
    ("Times of breakers", "the maker's curve, as typed; straight lines on log axes"),
)


class Breaker(NamedTuple):
    """A breaker as the study describes it."""

    which: Literal["main", "branch"]
    rating: float | None
    multiples: tuple[float, ...]
    seconds: tuple[float, ...]

    @property
    def holds(self) -> float | None:
        """The current up to which it never opens; its rating where there is no curve [A]."""
        if self.rating is None:
            return None
        return self.rating * (self.multiples[0] if self.multiples else 1.0)

    def opens_after(self, current: float | None) -> float | str | None:
        """Return how long it carries a current, "holds" for ever, None where nobody can tell."""
        if self.rating is None or current is None or not self.multiples:
            return None
        time = float(
            trip_time(
                current=current, rating=self.rating, multiples=self.multiples, seconds=self.seconds
            )
        )
        return time if np.isfinite(time) else HOLDS


def breaker_of(power: Power, which: Literal["main", "branch"]) -> Breaker:
    """Return the main breaker or that of a branch."""
    main = which == "main"
    rating = power.main_breaker_a if main else power.branch_breaker_a
    curve = power.main_breaker_curve if main else power.branch_breaker_curve
    return Breaker(
        which,
        None if rating is None else float(rating),
        tuple(float(multiple) for multiple, _ in curve),
        tuple(float(seconds) for _, seconds in curve),
    )


def area_of(cable: Cable) -> float:
    """Return a cable's copper area [mm²]."""
    if cable.area_mm2 is not None:
        return float(cable.area_mm2)
    return float(wire_area(gauge=float(cable.gauge_awg or 0)))


def resistance_of(cable: Cable) -> float:
    """Return a cable's resistance there and back at its temperature [Ω]."""
    return float(
        loop_resistance(
            area=area_of(cable), length=float(cable.length_m), temperature=_warmth(cable)
        )
    )


def _warmth(cable: Cable) -> float:
    return 20.0 if cable.temperature_c is None else float(cable.temperature_c)


def wiring_of(study: Study, power: dict[str, Any]) -> dict[str, Any]:
    """Return protection and wiring of a study, as the head of this module says.

    Parameters
    ----------
    study : Study
        The study.
    power : dict
        What `match_of` returned for it; the candidates in it are the ones that are told.
    """
    breakers = {which: breaker_of(study.power, which) for which in ("main", "branch")}
    main_cables = [one for one in study.power.cables if one.runs == "main"]
    branch_cables = [one for one in study.power.cables if one.runs == "branch"]
    alone = sum(resistance_of(one) for one in main_cables)
    typed = float(study.power.main_wiring_ohm)
    found = [_candidate(study, figures, breakers, branch_cables) for figures in power["candidates"]]
    return {
        "main": {
            **_breaker(breakers["main"]),
            "cables_ohm": alone if main_cables else None,
            "typed_ohm": typed,
            "verdict": _verdict("main wiring", typed, [alone]) if main_cables else "",
        },
        "branch": _breaker(breakers["branch"]),
        "cables": [_cable(one, breakers[one.runs]) for one in study.power.cables],
        "candidates": found,
        "warnings": [
            *_cable_warnings(study, breakers),
            *[warning for one in found for warning in _own_warnings(study, one, breakers)],
        ],
        "sources": [{"name": name, "source": source} for name, source in SOURCES],
    }


def _breaker(breaker: Breaker) -> dict[str, Any]:
    points = zip(breaker.multiples, breaker.seconds, strict=True)
    return {
        "rating_a": breaker.rating,
        "curve": [list(point) for point in points],
        "holds_a": breaker.holds,
        "double_s": breaker.opens_after(2.0 * (breaker.rating or 0.0)),
    }


def _cable(cable: Cable, breaker: Breaker) -> dict[str, Any]:
    area = area_of(cable)
    slow = _unprotected(area, breaker)
    return {
        "name": cable.name,
        "runs": cable.runs,
        "gauge_awg": cable.gauge_awg,
        "area_mm2": area,
        "length_m": float(cable.length_m),
        "temperature_c": _warmth(cable),
        "resistance_ohm": resistance_of(cable),
        "steady_a": float(steady_current(area=area)),
        "too_slow_a": None if slow is None else slow[0],
        "breaker_s": None if slow is None else slow[1],
        "cable_s": None if slow is None else slow[2],
    }


def _unprotected(area: float, breaker: Breaker) -> tuple[float, float, float] | None:
    """Return a current at which the wire is too hot before its breaker opens, with both times.

    The worst of 60 currents along the breaker's curve; None where it opens in time at all.
    """
    if breaker.rating is None or len(breaker.multiples) < 2:
        return None
    current = breaker.rating * np.geomspace(breaker.multiples[0], breaker.multiples[-1], 60)
    opens = trip_time(
        current=current * (1.0 + 1e-9),
        rating=breaker.rating,
        multiples=breaker.multiples,
        seconds=breaker.seconds,
    )
    hot = time_to_temperature(current=current, area=area, start=AIR, limit=INSULATION_LIMIT)
    above = current > float(steady_current(area=area))
    ratio = np.where(above, opens / hot, 0.0)
    worst = int(np.argmax(ratio))
    if ratio[worst] <= 1.0:
        return None
    return float(current[worst]), float(opens[worst]), float(hot[worst])


def _candidate(
    study: Study,
    figures: dict[str, Any],
    breakers: dict[str, Breaker],
    branch_cables: Sequence[Cable],
) -> dict[str, Any]:
    candidate = study.candidate(figures["key"])
    match, pushing, sprint = figures["match"], figures["push"], figures["sprint"]
    typed = float(candidate.drive.branch_ohm)
    peaks = [match["peak_current_a"], sprint["peak_current_a"], pushing["bus_current_a"]]
    currents = {
        "main": (pushing["bus_current_a"], match["rms_current_a"], _greatest(peaks)),
        "branch": (
            pushing["branch_current_a"],
            match["branch_rms_a"],
            _greatest([match["branch_peak_a"], pushing["branch_current_a"]]),
        ),
    }
    rows = []
    for which, (push, rms, peak) in currents.items():
        breaker = breakers[which]
        rows.append(
            {
                "which": which,
                "rating_a": breaker.rating,
                "push_a": push,
                "push_s": breaker.opens_after(push),
                "rms_a": rms,
                "rms_s": breaker.opens_after(rms),
                "peak_a": peak,
                "peak_s": breaker.opens_after(peak),
            }
        )
    alone = [resistance_of(one) for one in branch_cables]
    return {
        "key": candidate.key,
        "name": candidate.name,
        "letter": figures["letter"],
        "branch_ohm": typed,
        "verdict": _verdict("branch wiring", typed, alone) if alone else "",
        "breakers": rows,
        "cables": [
            _carries(one, rms=currents[one.runs][1], peak=currents[one.runs][2])
            for one in study.power.cables
        ],
        "slots": [slot._asdict() for slot in slots_of(study, candidate)],
    }


def _greatest(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return max(known) if known else None


def _carries(cable: Cable, *, rms: float | None, peak: float | None) -> dict[str, Any]:
    """Return what a cable drops at the greatest current, and its heat over a match."""
    area, warmth = area_of(cable), _warmth(cable)
    drop = None if peak is None else peak * resistance_of(cable)
    heat = None
    if rms is not None:
        heat = float(heat_per_metre(current=rms, area=area, temperature=warmth))
    return {
        "name": cable.name,
        "peak_a": peak,
        "peak_drop_v": drop,
        "rms_a": rms,
        "heat_w_per_m": heat,
    }


def _verdict(what: str, typed: float, alone: Sequence[float]) -> str:
    """Return whether a typed resistance fits the cables' own."""
    least, most = min(alone), max(alone)
    cables = f"{1000 * least:.2g} mΩ" if most - least < 0.05 * most else (
        f"{1000 * least:.2g} to {1000 * most:.2g} mΩ"
    )  # fmt: skip
    said = f"The {what} is given as {1000 * typed:.2g} mΩ; the cables alone have {cables}."
    if typed < LEAST_OF_CABLES * least:
        return f"{said} That cannot be: plugs and breakers only add to it. Raise the typed value."
    if typed > MOST_OF_CABLES * most:
        return f"{said} So much more is a bad contact, or a slip in the typed value."
    return f"{said} They agree: the rest is plugs and breakers."


def _warning(key: str | None, text: str, advice: str) -> dict[str, Any]:
    return {"key": key, "text": text, "advice": advice}


def _cable_warnings(study: Study, breakers: dict[str, Breaker]) -> list[dict[str, Any]]:
    """Return where a breaker does not protect the cable behind it."""
    warnings = []
    for cable in study.power.cables:
        breaker = breakers[cable.runs]
        holds, steady = breaker.holds, float(steady_current(area=area_of(cable)))
        if holds is None or breaker.rating is None:
            continue
        slow = _unprotected(area_of(cable), breaker)
        late = ""
        if slow is not None:
            late = (
                f" At {slow[0]:.0f} A the breaker takes {slow[1]:.0f} s; without cooling the cable "
                f"reaches {INSULATION_LIMIT:.0f} °C in {slow[2]:.0f} s."
            )
        if holds > steady * 1.001:
            text = (
                f"{cable.name}: the cable carries {steady:.0f} A steadily, but its "
                f"{breaker.rating:g} A breaker never opens up to {holds:.0f} A.{late}"
            )
        elif late:
            text = f"{cable.name}:{late}"
        else:
            continue
        warnings.append(
            _warning(None, text, "Current limits in the code protect it, or a thicker cable.")
        )
    return warnings


def _own_warnings(
    study: Study, found: dict[str, Any], breakers: dict[str, Breaker]
) -> list[dict[str, Any]]:
    """Return where a breaker does not protect what it seems to, for one candidate."""
    candidate: Candidate = study.candidate(found["key"])
    main, branch = breakers["main"], breakers["branch"]
    warnings = []
    rows = {row["which"]: row for row in found["breakers"]}
    if branch.rating is not None and branch.holds is not None:
        own = rows["branch"]["push_a"]
        motor = study.motors[candidate.drive.motor]
        stator = candidate.drive.stator_limit_a
        winding = float(motor.stall_current_a if stator is None else stator)
        if own is not None and own <= branch.holds < winding:
            warnings.append(
                _warning(
                    candidate.key,
                    f"{candidate.name}: in a push the branch carries {own:.0f} A while the winding "
                    f"may carry {winding:.0f} A. The {branch.rating:g} A breaker never opens, so "
                    "it does not protect the motor.",
                    "The stator limit and the length of a push protect the winding.",
                )
            )
    if main.rating is not None and rows["main"]["push_s"] not in (None, HOLDS):
        seconds = float(rows["main"]["push_s"])
        warnings.append(
            _warning(
                candidate.key,
                f"{candidate.name}: a push takes {rows['main']['push_a']:.0f} A through the "
                f"{main.rating:g} A main breaker, which opens after {seconds:.0f} s; until then "
                "nothing stops it.",
                "A lower supply limit lets a push last longer.",
            )
        )
    return warnings
