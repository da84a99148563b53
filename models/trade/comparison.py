"""Candidates side by side: every figure under the question it answers, against the baseline.

Contents
--------
Comparison, Group, Row, Cell: what a table shows.
compare: from an evaluation to the comparison.
difference_words, signed_difference, value_words: a cell in words.
row_style: the unit size and decimals that all cells of a row share.
closeness: whether two figures differ, are a tie or are the same.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NamedTuple

from models.quantities import METRICS, QUESTIONS, SURE_SHARE, TIE_SHARE, Metric, metrics_of
from models.units import UnitSystem, common_decimals, convert, display_unit, show, small_for

Value = float | str | bool | None
Verdict = Literal["better", "worse", "tie", "same", "baseline", "none"]
Closeness = Literal["same", "tie", "apart"]

LEAST_DIFFERENCE: Mapping[str, float] = {"m": 0.0005, "s": 0.005, "m3": 1e-6, "": 1e-9}
"""What nobody could measure on a robot: smaller differences are a tie whatever their share."""

_FINEST: Mapping[str, int] = {"mm": 1, "in": 2}
"""Most decimals of a unit: nobody builds a robot to a hundredth of a millimetre."""

_UNKNOWN_FIT = frozenset({"fits", "worst_clearance_m", "worst_clearance_margin_m", "overlap_m3"})
"""Figures that are missing because nobody drew the bodies, not because there are none."""


@dataclass(frozen=True)
class Column:
    """A candidate as the head of a column."""

    key: str
    name: str
    letter: str
    layout: str
    baseline: bool


class Span(NamedTuple):
    """The 10 and 90 % points of a figure over the draws of the uncertain inputs."""

    low: float
    high: float
    exists: float
    """Share of the draws in which there is such a figure at all."""


@dataclass(frozen=True)
class Cell:
    """One candidate's figure and how it stands to the baseline's."""

    key: str
    """The candidate's."""
    value: Value
    difference: float | None
    """Value less the baseline's, None where that makes no sense."""
    verdict: Verdict
    best: bool
    """True where nothing shown is better by more than a tie, and something is worse."""
    baseline_value: Value = None
    note: str = ""
    """Why there is no figure, where that is known."""
    span: Span | None = None
    """Where the figure lies in eight of ten draws of the uncertain inputs; None if it is sure."""


@dataclass(frozen=True)
class Row:
    """One figure of all candidates shown."""

    metric: Metric
    cells: tuple[Cell, ...]
    differs: bool
    """True where a candidate differs from the baseline by more than a tie."""

    def cell(self, key: str) -> Cell:
        """Return the cell of one candidate."""
        return next(cell for cell in self.cells if cell.key == key)


@dataclass(frozen=True)
class Group:
    """The rows that answer one question."""

    question: str
    words: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Comparison:
    """The whole table."""

    study: str
    baseline: str
    columns: tuple[Column, ...]
    groups: tuple[Group, ...]

    def row(self, metric_key: str) -> Row:
        """Return the row of one figure; raises `KeyError` where the table has none."""
        for group in self.groups:
            for row in group.rows:
                if row.metric.key == metric_key:
                    return row
        raise KeyError(metric_key)


@dataclass(frozen=True)
class _Line:
    """A row before it is compared: the figure of every candidate and the scale of a tie."""

    metric: Metric
    values: Mapping[str, Value]
    scales: Mapping[str, float]
    """What the tie share is taken of, where that is not the figure itself."""
    notes: Mapping[str, str]
    spans: Mapping[str, Span] = field(default_factory=dict)
    """Of the candidates whose figure is uncertain."""
    ahead: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """In what share of the draws one candidate is better than another."""


def compare(payload: Mapping[str, Any], shown: Sequence[str] | None = None) -> Comparison:
    """Return an evaluated study as a table: groups of rows, a cell for each candidate shown.

    Parameters
    ----------
    payload : what `evaluate_study` returns for the whole study
    shown : keys of the candidates to show, in the order of the study whatever their own; all for
        None. The baseline is compared with even where it is not shown.
    """
    everyone: list[Mapping[str, Any]] = list(payload["candidates"])
    wanted = None if shown is None else set(shown)
    seen = [one for one in everyone if wanted is None or one["key"] in wanted]
    baseline = str(payload["baseline"])
    lines: dict[str, list[_Line]] = {question: [] for question, _ in QUESTIONS}
    for question, _ in QUESTIONS:
        lines[question] += [_metric_line(metric, everyone) for metric in metrics_of(question)]
    lines["fit"] += _limit_lines(everyone)
    lines["cycle"] += _route_lines(everyone)
    lines = {key: [_with_draws(line, payload) for line in some] for key, some in lines.items()}
    keys = [str(one["key"]) for one in seen]
    return Comparison(
        study=str(payload["study"]),
        baseline=baseline,
        columns=tuple(_column(one, baseline) for one in seen),
        groups=tuple(
            Group(question, words, tuple(_row(line, keys, baseline) for line in lines[question]))
            for question, words in QUESTIONS
            if lines[question]
        ),
    )


def _column(one: Mapping[str, Any], baseline: str) -> Column:
    key = str(one["key"])
    return Column(key, str(one["name"]), str(one["letter"]), str(one["layout"]), key == baseline)


def _metric_line(metric: Metric, everyone: Iterable[Mapping[str, Any]]) -> _Line:
    values = {str(one["key"]): one["metrics"].get(metric.key) for one in everyone}
    return _Line(metric, values, {}, {})


def _with_draws(line: _Line, payload: Mapping[str, Any]) -> _Line:
    """Return a line with what the draws of the uncertain inputs say of its figure."""
    key = line.metric.key
    spans = {
        str(one["key"]): Span(found[0], found[2], found[3])
        for one in payload["candidates"]
        if (found := one.get("ranges", {}).get(key)) is not None
    }
    return replace(line, spans=spans, ahead=payload.get("ahead", {}).get(key, {}))


_LEFT = ("more left", "less left")
_LIMITS: tuple[tuple[str, str, str, str, str, str], ...] = (
    ("legal_mass", "kg", "Left of the mass limit", "", "", ""),
    ("perimeter", "m", "Left of the perimeter limit", "", "", ""),
    ("height", "m", "Left of the height limit", "Height, travelling pose", "taller", "lower"),
)
"""Limit, unit, name of its margin row, name and words of a value row where no metric has it."""


def _limit_lines(everyone: Sequence[Mapping[str, Any]]) -> list[_Line]:
    lines = []
    for limit, unit, margin_name, value_name, more, less in _LIMITS:
        entries = {str(one["key"]): one["limits"].get(limit) or {} for one in everyone}
        if value_name:
            metric = _extra(f"{limit}_m", value_name, unit, better="lower", words=(more, less))
            values = {key: entry.get("value") for key, entry in entries.items()}
            lines.append(_Line(metric, values, {}, {}))
        margins = {key: entry.get("margin") for key, entry in entries.items()}
        if any(margin is not None for margin in margins.values()):
            metric = _extra(
                f"{limit}_margin_{unit}", margin_name, unit, better="higher", words=_LEFT
            )
            scales = {key: abs(entry.get("value") or 0.0) for key, entry in entries.items()}
            lines.append(_Line(metric, margins, scales, {}))
    return lines


def _route_lines(everyone: Sequence[Mapping[str, Any]]) -> list[_Line]:
    names = list(dict.fromkeys(name for one in everyone for name in one["routes"]))
    return [line for name in names for line in _lines_of_route(name, everyone)]


def _lines_of_route(name: str, everyone: Sequence[Mapping[str, Any]]) -> list[_Line]:
    runs = {str(one["key"]): one["routes"].get(name) or {} for one in everyone}
    notes = {key: str(run.get("reason") or "") for key, run in runs.items()}
    times = {key: run.get("time_s") for key, run in runs.items()}
    scales = {key: time for key, time in times.items() if time is not None}
    metric = _extra(f"route_s:{name}", name, "s", better="lower", words=("slower", "quicker"))
    lines = [_Line(metric, times, {}, notes)]
    for member, title, unit, words in (
        ("margin_s", f"{name}: left of the autonomous period", "s", _LEFT),
        ("cycles", f"{name}: whole ones in a match", "", ("more", "fewer")),
    ):
        values = {key: run.get(member) for key, run in runs.items()}
        if any(value is not None for value in values.values()):
            extra = _extra(f"route_{member}:{name}", title, unit, better="higher", words=words)
            scale = scales if member == "margin_s" else {}
            lines.append(_Line(extra, values, scale, notes))
    return lines


_SENTENCES = {
    "route_s": "Driving, turning, waiting for mechanisms and standing still, added up leg by leg.",
    "route_margin_s": "The autonomous period less the time of the route; below zero it is late.",
    "route_cycles": "Whole cycles in what the match leaves after the autonomous period.",
    "height_m": "The highest part, body or wheel in the travelling pose.",
    "height_margin_m": "The height limit less the height in the travelling pose.",
    "legal_mass_margin_kg": "The mass limit less the mass that it counts; below zero: too heavy.",
    "perimeter_margin_m": "The perimeter limit less the frame's; below zero it is too long.",
}


def _extra(
    key: str, name: str, unit: str, *, better: Literal["higher", "lower"], words: tuple[str, str]
) -> Metric:
    """Return a figure that depends on the study's routes and rules and so is in no catalogue."""
    question, basis = ("cycle", "9") if key.startswith("route_") else ("fit", "6")
    sentence = _SENTENCES[key.split(":", maxsplit=1)[0]]
    more, less = words
    return Metric(key, name, "", unit, better, question, basis, sentence, more=more, less=less)


def closeness(
    value: float,
    other: float,
    unit: str,
    *,
    scale: float | None = None,
    ahead: tuple[float, float] | None = None,
) -> Closeness:
    """Return whether two figures are the same, a tie or apart.

    Where their inputs are uncertain they are a tie unless one is better in `SURE_SHARE` of the
    draws; `ahead` says in what share each is. Else a tie is a difference below `TIE_SHARE` of the
    larger one (of `scale` where that is what the share is taken of: a margin is as uncertain as
    the figure it is a margin of). A difference below what can be measured at all is always one.
    Two figures on different sides of zero are never a tie by share.

    >>> closeness(2.00, 2.05, "s"), closeness(2.00, 2.20, "s"), closeness(1.5, 1.5, "s")
    ('tie', 'apart', 'same')
    >>> closeness(2.0, 2.05, "s", ahead=(0.95, 0.05)), closeness(2.0, 2.4, "s", ahead=(0.8, 0.2))
    ('apart', 'tie')
    """
    if math.isclose(value, other, rel_tol=1e-9, abs_tol=1e-12):
        return "same"
    difference = abs(value - other)
    if difference < LEAST_DIFFERENCE.get(unit, 0.0):
        return "tie"
    if ahead is not None:
        return "apart" if max(ahead) >= SURE_SHARE else "tie"
    larger = max(abs(value), abs(other)) if scale is None else scale
    return "tie" if difference < TIE_SHARE * larger else "apart"


def _row(line: _Line, keys: Sequence[str], baseline: str) -> Row:
    standard = line.values.get(baseline)
    best = _best_keys(line, keys)
    cells = tuple(
        Cell(
            key=key,
            value=line.values.get(key),
            difference=_difference(line.values.get(key), standard, key == baseline),
            verdict="baseline" if key == baseline else _verdict(line, key, baseline),
            best=key in best,
            baseline_value=standard,
            note=line.notes.get(key, ""),
            span=line.spans.get(key),
        )
        for key in keys
    )
    return Row(line.metric, cells, any(_apart(line, key, baseline) for key in keys))


def is_number(value: Value) -> bool:
    """Return whether a figure is a number and not a word or a truth."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _difference(value: Value, standard: Value, is_baseline: bool) -> float | None:
    if is_baseline or not (is_number(value) and is_number(standard)):
        return None
    return float(value) - float(standard)  # type: ignore[arg-type]


def _closeness(line: _Line, key: str, other: str) -> Closeness:
    value, standard = line.values.get(key), line.values.get(other)
    if not (is_number(value) and is_number(standard)):
        return "same" if value == standard else "apart"
    scale = max(line.scales[key], line.scales[other]) if {key, other} <= set(line.scales) else None
    return closeness(
        float(value),  # type: ignore[arg-type]
        float(standard),  # type: ignore[arg-type]
        line.metric.unit,
        scale=scale,
        ahead=shares_between(line.ahead, key, other),
    )


def shares_between(
    ahead: Mapping[str, Mapping[str, float]], key: str, other: str
) -> tuple[float, float] | None:
    """Return in what shares of the draws each of two is better, None where neither varies.

    >>> shares_between({"a": {"b": 0.7}, "b": {"a": 0.3}}, "a", "b")
    (0.7, 0.3)
    """
    mine, theirs = ahead.get(key, {}).get(other), ahead.get(other, {}).get(key)
    return None if mine is None or theirs is None else (mine, theirs)


def _apart(line: _Line, key: str, baseline: str) -> bool:
    return key != baseline and _closeness(line, key, baseline) == "apart"


def _verdict(line: _Line, key: str, baseline: str) -> Verdict:
    value, standard = line.values.get(key), line.values.get(baseline)
    if value is None or standard is None:
        return "none"
    near = _closeness(line, key, baseline)
    if near != "apart":
        return near
    gain = _gain(line.metric, value, standard)
    return "none" if gain == 0 else "better" if gain > 0 else "worse"


def _gain(metric: Metric, value: Value, standard: Value) -> float:
    """Return how much better a value is than another: above 0 better, 0 where neither is."""
    if metric.better == "none" or isinstance(value, str) or isinstance(standard, str):
        return 0.0
    rise = float(value or 0.0) - float(standard or 0.0)
    return -rise if metric.better in ("lower", "no") else rise


def _best_keys(line: _Line, keys: Sequence[str]) -> set[str]:
    given = [key for key in keys if line.values.get(key) is not None]
    if line.metric.better == "none" or len(given) < 2:
        return set()
    leader = given[0]
    for key in given[1:]:
        if _gain(line.metric, line.values[key], line.values[leader]) > 0:
            leader = key
    best = {key for key in given if _closeness(line, key, leader) != "apart"}
    return set() if len(best) == len(given) else best


def value_words(row: Row, cell: Cell, system: UnitSystem) -> str:
    """Return a cell's figure in words, with the decimals and unit of its row.

    What does not exist reads 'none', what nobody gave reads 'not given'; neither reads 0.
    """
    value = cell.value
    if value is None:
        return "not given" if row.metric.key in _UNKNOWN_FIT else "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    small, decimals = row_style(row, system)
    return show(value, row.metric.unit, system, small=small, decimals=decimals)


def difference_words(row: Row, cell: Cell, system: UnitSystem) -> str:
    """Return how a cell differs from the baseline: '0.20 s quicker', 'tie', 'same', or ''."""
    if cell.verdict == "baseline" or cell.value is None:
        return ""
    if cell.baseline_value is None:
        return "the baseline has none"
    if cell.verdict in ("tie", "same"):
        return cell.verdict
    if cell.difference is None:
        return _word_difference(cell)
    word = row.metric.more if cell.difference > 0 else row.metric.less
    return f"{_amount(row, abs(cell.difference), system)} {word}"


def _word_difference(cell: Cell) -> str:
    """Return how a truth, a word or a date differs from the baseline's."""
    if isinstance(cell.value, bool):
        return "the baseline does not" if cell.value else "the baseline does"
    if cell.value == cell.baseline_value:
        return "same"
    return _days_words(cell) or f"not {cell.baseline_value}"


def _days_words(cell: Cell) -> str:
    """Return how many days lie between two dates, "" where these are words of another kind."""
    try:
        own, standard = (
            dt.date.fromisoformat(str(value)) for value in (cell.value, cell.baseline_value)
        )
    except ValueError:
        return ""
    days = abs((own - standard).days)
    return f"{days} {'day' if days == 1 else 'days'} {'later' if own > standard else 'sooner'}"


def signed_difference(row: Row, cell: Cell, system: UnitSystem) -> str:
    """Return the difference with its sign: '−0.20 s'; '' where there is none."""
    if cell.difference is None:
        return ""
    return _amount(row, cell.difference, system, signed=True)


def _amount(row: Row, difference: float, system: UnitSystem, *, signed: bool = False) -> str:
    """Return a difference with the decimals of its row, more only where it would read 0."""
    unit = row.metric.unit
    small, decimals = row_style(row, system)
    shown = abs(convert(difference, unit, system, small=small))
    if difference and round(shown, decimals) == 0:
        return show(difference, unit, system, digits=1, small=small, signed=signed)
    return show(difference, unit, system, small=small, decimals=decimals, signed=signed)


def row_style(row: Row, system: UnitSystem) -> tuple[bool, int]:
    """Return whether a row reads in its small unit (mm, in …), and its number of decimals."""
    values = [float(cell.value) for cell in row.cells if is_number(cell.value)]  # type: ignore[arg-type]
    if all(value.is_integer() for value in values) and not row.metric.unit:
        return False, 0
    small = small_for(values, row.metric.unit) if values else False
    decimals = common_decimals(values, row.metric.unit, system, small=small)
    return small, min(decimals, _FINEST.get(display_unit(row.metric.unit, system, small=small), 3))


def headline_rows(comparison: Comparison) -> list[Row]:
    """Return the rows of the figures that matter most, in page order."""
    return [
        row
        for group in comparison.groups
        for row in group.rows
        if row.metric.key in METRICS and row.metric.headline
    ]
