"""A route's seconds: what each candidate spends on turning, driving, waiting and acting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.engineering.drive import LINKED
from models.study.schema import Leg, Route
from models.trade.comparison import Cell, Comparison, Row, closeness, difference_words
from models.units import UnitSystem, display_unit, show, show_bare
from webapp.shared.candidates import CandidateMark
from webapp.shared.comparison.context import DIFFERENCE_STYLES

BAR_WIDTH = 1000.0
"""Drawing units that the longest bar takes."""
ACTIVITIES = (
    ("turn", "turns or steers"),
    ("drive", "drives"),
    ("wait", "waits for the mechanism"),
    ("act", "acts, standing still"),
)
"""What a route's time goes into, with the words of the legend."""
VERBS = {"turn": "turns", "drive": "drives", "wait": "waits", "act": "acts"}
AXIS_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
MOST_TICKS = 9


@dataclass(frozen=True)
class Piece:
    """One stretch of a bar."""

    kind: str
    left: float
    width: float
    words: str


@dataclass(frozen=True)
class BarRow:
    """One candidate's time over a route, as a bar."""

    mark: CandidateMark
    total: str
    difference: str
    css: str
    standing: tuple[str, str, str]
    """Mark, style class and words: the margin of an autonomous route, the cycles of another."""
    sums: str
    pieces: tuple[Piece, ...]
    dividers: tuple[float, ...]
    best: bool
    reason: str
    """Why it cannot drive the route, "" where it can."""
    span: str
    """Where the time lies in eight of ten draws, "" if that is not asked for or sure."""


@dataclass(frozen=True)
class Bars:
    """The bars of all candidates on one scale."""

    rows: tuple[BarRow, ...]
    ticks: tuple[tuple[float, str], ...]
    limit: float | None
    """Where the autonomous period ends on the scale."""
    limit_words: str


@dataclass(frozen=True)
class LegCell:
    """One candidate's time for one leg."""

    key: str
    text: str
    governed: str
    best: bool
    reason: str


@dataclass(frozen=True)
class LegRow:
    """One leg, with the time of every candidate."""

    number: int
    words: str
    about: str
    """Pose, driving through, what it crosses: "" where there is nothing to say."""
    cells: tuple[LegCell, ...]


@dataclass(frozen=True)
class SumCell:
    """One candidate's figure for the whole route."""

    key: str
    text: str
    css: str
    best: bool
    sign: str = ""
    span: str = ""
    """Where it lies in eight of ten draws of the uncertain inputs."""


@dataclass(frozen=True)
class LegTable:
    """Legs down, candidates across, seconds in the cells, totals at the foot."""

    rows: tuple[LegRow, ...]
    totals: tuple[tuple[str, tuple[SumCell, ...]], ...]


@dataclass(frozen=True)
class DetailRow:
    """One leg of one candidate in full."""

    number: int
    words: str
    times: tuple[str, ...]
    """Turn, drive, wait, act, whole; in seconds."""
    governed: str
    top_speed: str
    note: str


@dataclass(frozen=True)
class Detail:
    """One candidate's route leg by leg."""

    mark: CandidateMark
    summary: str
    rows: tuple[DetailRow, ...]
    totals: tuple[str, ...]


def times_of(leg: Mapping[str, Any], layout: str) -> dict[str, float]:
    """Return what a leg's time goes into; empty where the leg cannot be driven.

    A base that drives in any direction turns while it drives: only what the turn takes longer
    than the drive counts as turning.

    >>> leg = {"time_s": 2.5, "drive_s": 1.0, "turn_s": 1.2, "steer_s": 0.1, "prepare_s": 2.0,
    ...        "action_s": 0.5}
    >>> {kind: round(time, 2) for kind, time in times_of(leg, "swerve").items()}
    {'turn': 0.3, 'drive': 1.0, 'wait': 0.7, 'act': 0.5}
    """
    if leg["time_s"] is None:
        return {}
    drive, turn, steer = leg["drive_s"] or 0.0, leg["turn_s"] or 0.0, leg["steer_s"] or 0.0
    linked = layout in LINKED
    move = leg.get("move_s")
    if move is None:
        move = steer + (turn + drive if linked else max(turn, drive))
    turning = min(move, turn if linked else steer + max(0.0, turn - drive))
    wait = leg.get("wait_s")
    if wait is None:
        wait = max(0.0, leg["prepare_s"] - move)
    return {"turn": turning, "drive": move - turning, "wait": wait, "act": leg["action_s"]}


def leg_words(leg: Leg, system: UnitSystem) -> str:
    """Return where a leg goes, in words."""
    if leg.to_m is None:
        return "stays"
    x, y = (show_bare(float(place), "m", system, small=False, decimals=2) for place in leg.to_m)
    return f"to {x}, {y}\N{NO-BREAK SPACE}{display_unit('m', system)}"


def seconds(value: float | None) -> str:
    """Return seconds without their unit, as all tables of a route print them."""
    return "–" if value is None else show_bare(value, "s", UnitSystem.SI, decimals=2)


def runs_of(payload: Mapping[str, Any], name: str) -> dict[str, Mapping[str, Any]]:
    """Return every candidate's run over a route, by key; those without one are missing."""
    return {
        str(one["key"]): one["routes"][name]
        for one in payload["candidates"]
        if name in one["routes"]
    }


def bars_of(
    route: Route,
    runs: Mapping[str, Mapping[str, Any]],
    marks: Sequence[CandidateMark],
    table: Comparison,
    allowed: float,
    *,
    ranges: bool = False,
) -> Bars:
    """Return a route's time bars, all on one scale; `allowed` is the autonomous period [s].

    With `ranges` each says where its time lies in eight of ten draws.
    """
    autonomous = route.kind == "autonomous"
    times = [float(run["time_s"]) for run in runs.values() if run["time_s"] is not None]
    longest = max([*times, *([allowed] if autonomous else [])], default=0.0) or 1.0
    scale = BAR_WIDTH / longest
    limit = allowed * scale if autonomous else None
    step = next((one for one in AXIS_STEPS if longest / one < MOST_TICKS), AXIS_STEPS[-1])
    return Bars(
        rows=tuple(
            _bar(runs[mark.key], mark, table.row(f"route_s:{route.name}"), scale, ranges=ranges)
            for mark in marks
        ),
        ticks=tuple(
            (round(index * step * scale, 1), f"{index * step:g}")
            for index in range(int(longest / step) + 1)
        ),
        limit=None if limit is None else round(limit, 1),
        limit_words=f"the autonomous period ends at {allowed:g} s" if autonomous else "",
    )


def _bar(
    run: Mapping[str, Any], mark: CandidateMark, row: Row, scale: float, *, ranges: bool
) -> BarRow:
    cell = row.cell(mark.key)
    pieces, dividers = [], []
    sums = dict.fromkeys(VERBS, 0.0)
    left = 0.0
    for number, leg in enumerate(run["legs"], start=1):
        for kind, time in times_of(leg, mark.layout).items():
            sums[kind] += time
            width = time * scale
            if width > 0.0:
                words = f"leg {number} {VERBS[kind]} {time:.2f} s"
                pieces.append(Piece(kind, round(left, 1), round(width, 1), words))
            left += width
        dividers.append(round(left, 1))
    whole = run["time_s"]
    spent = ", ".join(f"{VERBS[kind]} {time:.1f} s" for kind, time in sums.items() if time > 0.05)
    return BarRow(
        mark=mark,
        total="no time" if whole is None else show(whole, "s", UnitSystem.SI, decimals=2),
        difference=difference_words(row, cell, UnitSystem.SI),
        css=DIFFERENCE_STYLES.get(cell.verdict, ""),
        standing=standing_of(run),
        sums="" if whole is None else spent,
        pieces=() if whole is None else tuple(pieces),
        dividers=() if whole is None else tuple(dividers[:-1]),
        best=cell.best,
        reason="" if whole is not None else str(run.get("reason") or "It cannot be driven."),
        span=span_words(cell) if ranges else "",
    )


def span_words(cell: Cell, *, whole: bool = False) -> str:
    """Return where a time, margin or count lies in eight of ten draws, "" where it is sure."""
    span = cell.span
    if span is None:
        return ""
    low, high = (f"{end:.0f}" if whole else seconds(end) for end in (span.low, span.high))
    words = f"{low} to {high}" if low != high else ""
    missing = f"none in {1.0 - span.exists:.0%} of the draws" if span.exists < 1.0 else ""
    return "; ".join(part for part in (words, missing) if part)


def standing_of(run: Mapping[str, Any]) -> tuple[str, str, str]:
    """Return mark, style and words of what is left of the period, or of the cycles in a match."""
    margin, cycles = run.get("margin_s"), run.get("cycles")
    if margin is not None:
        if margin < 0.0:
            return "✕", "bad", f"{show(-margin, 's', UnitSystem.SI, decimals=2)} too late"
        return "✓", "good", f"{show(margin, 's', UnitSystem.SI, decimals=2)} to spare"
    if cycles is not None:
        return "", "", f"{cycles} cycle{'' if cycles == 1 else 's'} in a match"
    return "✕", "bad", "cannot drive it"


def leg_table(
    route: Route,
    runs: Mapping[str, Mapping[str, Any]],
    marks: Sequence[CandidateMark],
    table: Comparison,
    system: UnitSystem,
    *,
    ranges: bool = False,
) -> LegTable:
    """Return a route's legs with every candidate's seconds, its totals with ranges if asked."""
    rows = []
    for index, leg in enumerate(route.legs):
        legs = {mark.key: runs[mark.key]["legs"][index] for mark in marks}
        best = _best([legs[mark.key]["time_s"] for mark in marks])
        rows.append(
            LegRow(
                number=index + 1,
                words=leg_words(leg, system),
                about=about_leg(leg, next(iter(legs.values()), {}), system),
                cells=tuple(
                    LegCell(
                        key=mark.key,
                        text=seconds(legs[mark.key]["time_s"]),
                        governed=governed_words(legs[mark.key]),
                        best=position in best,
                        reason=str(legs[mark.key].get("reason") or ""),
                    )
                    for position, mark in enumerate(marks)
                ),
            )
        )
    return LegTable(tuple(rows), tuple(_totals(route, runs, marks, table, ranges=ranges)))


def _totals(
    route: Route,
    runs: Mapping[str, Mapping[str, Any]],
    marks: Sequence[CandidateMark],
    table: Comparison,
    *,
    ranges: bool,
) -> list[tuple[str, tuple[SumCell, ...]]]:
    row = table.row(f"route_s:{route.name}")
    rest = "margin_s" if route.kind == "autonomous" else "cycles"
    rows = {one.metric.key: one for group in table.groups for one in group.rows}
    counted = rows.get(f"route_{rest}:{route.name}") if ranges else None
    cells = {mark.key: row.cell(mark.key) for mark in marks}
    whole, against, left = [], [], []
    for mark in marks:
        run, cell = runs[mark.key], cells[mark.key]
        span = span_words(cell) if ranges else ""
        whole.append(SumCell(mark.key, seconds(run["time_s"]), "", cell.best, span=span))
        words = "today" if mark.baseline else difference_words(row, cell, UnitSystem.SI) or "–"
        against.append(SumCell(mark.key, words, DIFFERENCE_STYLES.get(cell.verdict, ""), False))
        sign, css, standing = standing_of(run)
        if run.get("cycles") is not None:
            standing = str(run["cycles"])
        span = "" if counted is None else span_words(counted.cell(mark.key), whole=rest == "cycles")
        left.append(SumCell(mark.key, standing, css, False, sign, span))
    last = "Of the autonomous period" if route.kind == "autonomous" else "Cycles in a match"
    return [
        ("Whole route, s", tuple(whole)),
        ("Against today", tuple(against)),
        (last, tuple(left)),
    ]


def _best(values: Sequence[float | None]) -> set[int]:
    """Return which values are the least, ties included; none where all are."""
    given = {place: value for place, value in enumerate(values) if value is not None}
    if len(given) < 2:
        return set()
    least = min(given.values())
    best = {place for place, value in given.items() if closeness(value, least, "s") != "apart"}
    return set() if len(best) == len(given) else best


def governed_words(leg: Mapping[str, Any]) -> str:
    """Return what sets a leg's time."""
    return "" if leg["time_s"] is None else str(leg["governed_by"])


def _governed_in_full(leg: Mapping[str, Any]) -> str:
    """Return what sets a leg's time; where it is the drive, what holds that back most."""
    words, limit = governed_words(leg), leg.get("accel_limit")
    return f"{words}, held by {limit}" if words == "drive" and limit else words


def about_leg(leg: Leg, figures: Mapping[str, Any], system: UnitSystem) -> str:
    """Return what is special about a leg: its pose, driving through, what it crosses."""
    words = []
    if leg.pose:
        words.append(f"“{leg.pose}”")
    if leg.passes:
        radius = (
            ""
            if leg.radius_m is None
            else f", radius {show(leg.radius_m, 'm', system, small=False, digits=2)}"
        )
        words.append(f"drives through{radius}")
    words += [f"✕ crosses {name}" for name in figures.get("crosses") or ()]
    return "; ".join(words)


def details_of(
    route: Route,
    runs: Mapping[str, Mapping[str, Any]],
    marks: Sequence[CandidateMark],
    system: UnitSystem,
) -> list[Detail]:
    """Return every candidate's route leg by leg: what the time goes into and what sets it."""
    return [_detail(route, runs[mark.key], mark, system) for mark in marks]


def _detail(
    route: Route, run: Mapping[str, Any], mark: CandidateMark, system: UnitSystem
) -> Detail:
    rows, sums = [], [0.0, 0.0, 0.0, 0.0]
    for index, (leg, figures) in enumerate(zip(route.legs, run["legs"], strict=True)):
        times = times_of(figures, mark.layout)
        sums = [one + times.get(kind, 0.0) for one, kind in zip(sums, VERBS, strict=True)]
        top = figures.get("top_mps")
        notes = [str(figures["reason"])] if figures.get("reason") else []
        notes += ["backwards"] if figures.get("reverse") else []
        rows.append(
            DetailRow(
                number=index + 1,
                words=leg_words(leg, system),
                times=(*(seconds(times.get(kind)) for kind in VERBS), seconds(figures["time_s"])),
                governed=_governed_in_full(figures),
                top_speed="–" if not top else show_bare(top, "mps", system, decimals=2),
                note="; ".join([*notes, about_leg(leg, figures, system)]).strip("; "),
            )
        )
    whole = run["time_s"]
    summary = (
        str(run.get("reason") or "") if whole is None else f"{seconds(whole)}\N{NO-BREAK SPACE}s"
    )
    totals = (*(seconds(one) for one in sums), seconds(whole)) if whole is not None else ()
    return Detail(mark, summary, tuple(rows), totals)
