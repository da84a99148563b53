"""What the routes come to, in sentences: who is quickest, by how much, and what holds it back."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Route
from models.trade.comparison import Comparison
from models.trade.phrases import Names, capitalised, listed
from models.units import UnitSystem, show
from webapp.shared.routes.times import runs_of

MECHANISM = "mechanism"
LITTLE_S = 0.5
"""Where the drive takes no more than this beside the mechanisms, that is said."""


@dataclass(frozen=True)
class RouteSentence:
    """One sentence about a route, with the weight it has."""

    kind: str
    """lead, note, watch or bad."""
    text: str


def route_leads(
    route: Route,
    payload: Mapping[str, Any],
    table: Comparison,
    faster: Mapping[str, Mapping[str, Any]],
) -> list[RouteSentence]:
    """Return the sentences about a route, who is quickest first.

    `table` compares the payload and says what is a tie; `faster` says by candidate what a faster
    drive would make of the route.
    """
    names = Names(payload["candidates"], str(payload["baseline"]))
    runs = runs_of(payload, route.name)
    times = {key: float(run["time_s"]) for key, run in runs.items() if run["time_s"] is not None}
    best = {cell.key for cell in table.row(f"route_s:{route.name}").cells if cell.best}
    baseline = str(payload["baseline"])
    found = [_lead(route, runs, times, best=best or set(times), names=names, baseline=baseline)]
    found += _late(route, runs, names)
    found += _cannot(runs, names)
    found += _crossings(runs)
    found += _what_drive_buys(runs, times, faster, names)
    return found


def _say(value: float, *, decimals: int = 2) -> str:
    return show(value, "s", UnitSystem.SI, decimals=decimals)


def _lead(
    route: Route,
    runs: Mapping[str, Mapping[str, Any]],
    times: Mapping[str, float],
    *,
    best: Collection[str],
    names: Names,
    baseline: str,
) -> RouteSentence:
    if not times:
        return RouteSentence("bad", "No candidate can drive this route.")
    if len(runs) == 1:
        (key,) = times
        ending = _room(route, runs[key])
        return RouteSentence("lead", f"It takes {_say(times[key])}{ending}.")
    ranked = sorted(times, key=lambda key: times[key])
    quickest = [key for key in ranked if key in best]
    a_cycle = " a cycle" if route.kind == "cycle" else ""
    if len(quickest) == len(times) > 1:
        pace = f"{_say(times[ranked[0]])} to {_say(times[ranked[-1]])}{a_cycle}"
        text = f"All that can drive it are a tie: {pace}"
        if len(times) == len(runs):
            text = f"All candidates are a tie: {pace}"
        return RouteSentence("lead", f"{text}.")
    text = f"{names.all(quickest)} {'is quickest' if len(quickest) == 1 else 'are quickest, a tie'}"
    if len(times) == 1:
        text = f"Only {names(quickest[0])} can drive it"
    pace = f"{_say(times[quickest[0]])}{a_cycle}"
    if len(quickest) > 1:
        pace = f"{_say(times[quickest[0]])} to {_say(times[quickest[-1]])}{a_cycle}"
    parts = [f"{capitalised(text)}: {pace}"]
    if baseline in quickest:
        behind = [key for key in ranked if key not in best and times[key] > times[baseline]]
        if behind:
            parts.append(f"{_say(times[behind[0]] - times[baseline])} before {names(behind[0])}")
    elif baseline in times:
        gap = times[baseline] - times[quickest[0]]
        parts.append(f"{_say(gap)} quicker than {names(baseline)}")
    ending = _room(route, runs[quickest[0]])
    if route.kind == "cycle" and baseline not in quickest and baseline in times:
        more = (runs[quickest[0]].get("cycles") or 0) - (runs[baseline].get("cycles") or 0)
        ending += f", {more} more than today" if more > 0 else ", as many as today"
    return RouteSentence("lead", f"{', '.join(parts)}{ending}.")


def _room(route: Route, run: Mapping[str, Any]) -> str:
    """Return what a run leaves of its period, or how many of it a match holds."""
    if route.kind == "autonomous":
        margin = run.get("margin_s")
        if margin is None:
            return ""
        return f"; {_say(abs(margin))} {'to spare' if margin >= 0.0 else 'too late'}"
    cycles = run.get("cycles")
    return "" if cycles is None else f"; {cycles} whole cycle{'' if cycles == 1 else 's'} a match"


def _late(route: Route, runs: Mapping[str, Mapping[str, Any]], names: Names) -> list[RouteSentence]:
    late = {key: run["margin_s"] for key, run in runs.items() if (run.get("margin_s") or 0.0) < 0.0}
    if not late:
        return []
    if len(late) == len(runs) > 1:
        text = f"No candidate ends before the bell: {_say(min(-by for by in late.values()))} "
        text += f"to {_say(max(-by for by in late.values()))} too late."
        return [RouteSentence("bad", text)]
    over = listed([_say(-by) for by in late.values()])
    verb = "ends" if len(late) == 1 else "end"
    return [RouteSentence("bad", capitalised(f"{names.all(late)} {verb} {over} too late."))]


def _cannot(runs: Mapping[str, Mapping[str, Any]], names: Names) -> list[RouteSentence]:
    found = []
    for key, run in runs.items():
        if run["time_s"] is not None:
            continue
        stuck = [
            (number, leg)
            for number, leg in enumerate(run["legs"], start=1)
            if leg["time_s"] is None
        ]
        reason = str(run.get("reason") or "no time was found").rstrip(".")
        if stuck:
            reason = str(stuck[0][1].get("reason") or reason).rstrip(".")
            which = listed([str(number) for number, _ in stuck])
            what = f"leg{'s' if len(stuck) > 1 else ''} {which}"
        else:
            what = "it"
        text = f"{names(key)} cannot drive {what}: {reason[:1].lower()}{reason[1:]}."
        found.append(RouteSentence("bad", capitalised(text)))
    return found


def _what_drive_buys(
    runs: Mapping[str, Mapping[str, Any]],
    times: Mapping[str, float],
    faster: Mapping[str, Mapping[str, Any]],
    names: Names,
) -> list[RouteSentence]:
    """Return where the mechanism sets the quickest time, and what a faster drive still buys."""
    if not times:
        return []
    lead = min(times, key=lambda key: times[key])
    legs = runs[lead]["legs"]
    held = [number for number, leg in enumerate(legs, start=1) if leg["governed_by"] == MECHANISM]
    buys = faster.get(lead, {})
    least, saved = buys.get("seconds_if_infinitely_fast"), buys.get("saved_s")
    text = ""
    if held and len(held) == len(legs):
        text = f"On every leg the mechanism, not the drive, sets the time of {names(lead)}"
    elif held:
        which = f"leg{'s' if len(held) > 1 else ''} {listed([str(number) for number in held])}"
        text = f"On {which} the mechanism, not the drive, sets the time of {names(lead)}"
    if least is None or saved is None:
        return [RouteSentence("watch", f"{text}.")] if text else []
    most = times[lead] - least
    if most < LITTLE_S:
        gain = f"a faster drive buys {_say(most)} at most"
        return [RouteSentence("watch", capitalised(f"{text}; {gain}." if text else f"{gain}."))]
    gain = (
        f"A drive a tenth quicker would save {'it' if text else names(lead)} {_say(saved)}; "
        f"however fast, {_say(least)} would remain for mechanisms and actions."
    )
    return [RouteSentence("watch" if held else "note", f"{text}. {gain}" if text else gain)]


def _crossings(runs: Mapping[str, Mapping[str, Any]]) -> list[RouteSentence]:
    legs: Sequence[Mapping[str, Any]] = next(iter(runs.values()), {}).get("legs", ())
    by_obstacles: dict[tuple[str, ...], list[int]] = {}
    for number, leg in enumerate(legs, start=1):
        if leg.get("crosses"):
            by_obstacles.setdefault(tuple(leg["crosses"]), []).append(number)
    return [
        RouteSentence("bad", f"{_legs(numbers)} {listed([f'“{one}”' for one in names])}.")
        for names, numbers in by_obstacles.items()
    ]


def _legs(numbers: Sequence[int]) -> str:
    which = listed([str(number) for number in numbers])
    return f"Legs {which} cross" if len(numbers) > 1 else f"Leg {which} crosses"
