"""What a candidate's inputs come to: the headline figures now and as saved, effects, remarks."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.quantities import METRICS, Metric, headline_metrics
from models.services import StudyState, evaluation_of, preview, whole_evaluation_of
from models.study.schema import Study
from models.trade.ledger import Ledger, LedgerRow, mass_ledger
from models.units import UnitSystem, common_decimals, show, show_bare, small_for
from webapp.forms import path_of_place
from webapp.pages.candidate.groups import EFFECTS, ONLY_FOR, REMARK_PLACES, UNUSED
from webapp.shared.remarks import RemarkView, remarks_beside

GAPS_SHOWN = 4
NOT_KNOWN = "not known"
SHORT_NAMES = {
    "fits": "fits",
    "legal_mass_kg": "legal mass",
    "sprint_stop_time_s": "sprint, stop",
    "top_speed_mps": "top speed",
    "turn90_s": "quarter turn",
    "push_force_n": "push",
    "min_bus_voltage_v": "lowest bus",
    "tip_brake_mps2": "tips braking",
}


@dataclass(frozen=True)
class FigureLine:
    """One headline figure: now, as saved, what changed in words, and the baseline's."""

    key: str
    name: str
    short: str
    """The name where there is little room."""
    sentence: str
    now: str
    saved: str
    change: str
    css: str
    today: str
    span: str
    """Where the saved figure lies in eight of ten draws, "" if that is not asked for or sure."""


@dataclass(frozen=True)
class GapLine:
    """One gap between a body of the base and a keep-out."""

    words: str
    gap: str
    verdict: str
    css: str


@dataclass(frozen=True)
class LedgerLine:
    """One part in the mass ledger."""

    name: str
    mass: str
    exempt: bool


@dataclass(frozen=True)
class LedgerView:
    """The mass ledger as the page shows it."""

    swap: bool
    stays: list[LedgerLine]
    goes_out: list[LedgerLine]
    comes_in: list[LedgerLine]
    stays_total: str
    goes_out_total: str
    comes_in_total: str
    totals: list[tuple[str, str, str, str]]
    """Words, as it is today, with this candidate, difference."""
    margin_words: str
    margin_css: str


@dataclass(frozen=True)
class Figures:
    """All that is recomputed while one types."""

    known: bool
    faults: Sequence[Fault]
    lines: list[FigureLine]
    effects: dict[str, str]
    remarks: dict[str, list[RemarkView]]
    gaps: list[GapLine]
    fit_words: str
    limits: list[str]
    ledger: LedgerView | None
    masses: dict[str, str]
    study: Study
    unsaved: bool
    notes: list[str] = field(default_factory=list)


def figures_of(
    store: Any,
    state: StudyState,
    key: str,
    system: UnitSystem,
    edits: Mapping[str, Any] | None = None,
    *,
    ranges: bool = False,
) -> Figures:
    """Return what a candidate comes to, with the edits where there are any.

    Where the edits do not hold, the figures are not known and the faults say why. With `ranges`
    each saved figure says where it lies in eight of ten draws.
    """
    payload = evaluation_of(store, state)
    saved = _candidate_of(payload, key)
    study: Study = state.study
    faults: Sequence[Fault] = ()
    now: Mapping[str, Any] | None = saved
    if edits is not None:
        try:
            study, payload, faults = preview_without_stale_ranges(store, state, edits)
            now = _candidate_of(payload, key)
        except StudyRefusedError as refused:
            now, faults = None, refused.faults
    today = _candidate_of(payload, payload["baseline"])
    known = now is not None
    spans: Mapping[str, Sequence[float]] = {}
    if ranges and edits is None:
        spans = _candidate_of(whole_evaluation_of(store, state), key)["ranges"]
    return Figures(
        known=known,
        faults=faults,
        lines=[
            _line(metric, now, saved, today, system, span=spans.get(metric.key))
            for metric in headline_metrics()
        ],
        effects=_effects(now, system),
        remarks=_remarks(study, key, system) if known else {},
        gaps=_gaps(now, system),
        fit_words=_fit_words(now),
        limits=_limits(now, system),
        ledger=_ledger_view(mass_ledger(study, study.candidate(key)), system) if known else None,
        masses=_masses(study, key, system) if known else {},
        study=study,
        unsaved=edits is not None,
    )


def preview_without_stale_ranges(
    store: Any, state: StudyState, edits: Mapping[str, Any]
) -> tuple[Study, dict[str, Any], Sequence[Fault]]:
    """Return the study as typed and its figures, with the faults that did not stand in their way.

    A value typed outside the range stated for it is one: the range has to be mended before it can
    be saved, but the figures do not need it.
    """
    try:
        return *preview(store, state, edits), ()
    except StudyRefusedError as refused:
        ends = ("low", "high")
        paths = [path_of_place(fault.place) for fault in refused.faults]
        if not all(path[0] == "candidates" and path[-1] in ends for path in paths):
            raise
        bare = {section: copy.deepcopy(value) for section, value in edits.items()}
        for value in bare.values():
            for path in paths:
                _drop_range(value, path[2:-1])
        return *preview(store, state, bare), refused.faults


def _drop_range(section: Any, path: Sequence[str | int]) -> None:
    for step in path:
        section = section[step]
    for end in ("low", "high"):
        section.pop(end, None)


def _candidate_of(payload: Mapping[str, Any], key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in payload["candidates"] if one["key"] == key)
    return found


def _line(
    metric: Metric,
    now: Mapping[str, Any] | None,
    saved: Mapping[str, Any],
    today: Mapping[str, Any],
    system: UnitSystem,
    *,
    span: Sequence[float] | None,
) -> FigureLine:
    values = [one["metrics"][metric.key] if one else None for one in (now, saved, today)]
    small, decimals = _style(metric, values, system)
    texts = [_text(metric, value, system, small, decimals) for value in values]
    change, css = "", ""
    if now is not None and texts[0] != texts[1]:
        change, css = _change(metric, values[0], values[1], system)
    return FigureLine(
        key=metric.key,
        name=metric.name,
        short=SHORT_NAMES.get(metric.key, metric.name),
        sentence=metric.sentence,
        now=texts[0] if now is not None else "–",
        saved=texts[1],
        change=change,
        css=css,
        today="" if saved["key"] == today["key"] else texts[2],
        span=_span(metric, span, system, small, decimals),
    )


def _span(
    metric: Metric,
    span: Sequence[float] | None,
    system: UnitSystem,
    small: bool,
    decimals: int | None,
) -> str:
    """Return where a figure lies in eight of ten draws: '2.02 to 2.31', "" where it is sure."""
    if span is None or metric.kind != "number":
        return "not in every draw" if span is not None and span[0] != span[2] else ""
    low, high = (
        show_bare(end, metric.unit, system, small=small, decimals=decimals)
        for end in (span[0], span[2])
    )
    words = f"{low} to {high}" if low != high else ""
    missing = f"none in {1.0 - span[3]:.0%} of the draws" if span[3] < 1.0 else ""
    return "; ".join(part for part in (words, missing) if part)


def _style(metric: Metric, values: Sequence[Any], system: UnitSystem) -> tuple[bool, int | None]:
    numbers = [value for value in values if _is_number(value)]
    if not numbers or not metric.unit:
        return False, None
    small = small_for(numbers, metric.unit)
    return small, common_decimals(numbers, metric.unit, system, small=small)


def _text(metric: Metric, value: Any, system: UnitSystem, small: bool, decimals: int | None) -> str:
    if isinstance(value, bool):
        mark = ("✓ " if value else "✕ ") if metric.better == "yes" else ""
        return mark + ("yes" if value else "no")
    if value is None:
        return NOT_KNOWN if metric.key == "fits" else "none"
    if isinstance(value, str):
        return value
    return show(value, metric.unit, system, small=small, decimals=decimals)


def _change(metric: Metric, now: Any, saved: Any, system: UnitSystem) -> tuple[str, str]:
    """Return what moved since the last save in words, and whether that is good or bad."""
    if not (_is_number(now) and _is_number(saved)):
        return "changed", _verdict_css(metric, now, saved)
    small, decimals = _style(metric, (now, saved), system)
    moved = now - saved
    amount = show(abs(moved), metric.unit, system, small=small, decimals=decimals)
    return f"{amount} {metric.more if moved > 0 else metric.less}", _verdict_css(metric, now, saved)


def _verdict_css(metric: Metric, now: Any, saved: Any) -> str:
    if metric.better == "none" or now is None or saved is None or isinstance(now, str):
        return ""
    higher = float(now) > float(saved)
    return "good" if higher == (metric.better != "lower") else "bad"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _effects(now: Mapping[str, Any] | None, system: UnitSystem) -> dict[str, str]:
    if now is None:
        return dict.fromkeys(EFFECTS, "")
    return {
        name: _effect(now["metrics"], *effect, system)
        if now["layout"] in ONLY_FOR.get(name, {now["layout"]})
        else UNUSED
        for name, effect in EFFECTS.items()
    }


def _effect(metrics: Mapping[str, Any], key: str, words: str, system: UnitSystem) -> str:
    value = metrics.get(key)
    if not _is_number(value):
        return ""
    said = words.format(show(value, METRICS[key].unit, system))
    limited = metrics.get("push_limited_by")
    return f"{said}, limited by {limited}" if key == "push_force_n" and limited else said


def _remarks(study: Study, key: str, system: UnitSystem) -> dict[str, list[RemarkView]]:
    index = next(i for i, one in enumerate(study.candidates) if one.key == key)
    section = ("candidates", index)
    return remarks_beside(study, [section], REMARK_PLACES, system, candidate_key=key)


def _gaps(now: Mapping[str, Any] | None, system: UnitSystem) -> list[GapLine]:
    if now is None:
        return []
    return [_gap_line(row, system) for row in now["fit"][:GAPS_SHOWN]]


def _gap_line(row: Mapping[str, Any], system: UnitSystem) -> GapLine:
    words = f"{row['body']} – {row['keepout']}"
    if row["overlap_m3"]:
        overlap = show(row["overlap_m3"], "m3", system)
        return GapLine(words, "overlap", f"✕ share {overlap}", "bad")
    gap = show(row["gap_m"], "m", system, small=True)
    if row["conflict"]:
        asked = show(row["clearance_m"], "m", system, small=True)
        return GapLine(words, gap, f"✕ asks for {asked}", "bad")
    left = show(row["margin_m"], "m", system, small=True)
    return GapLine(words, gap, f"✓ {left} to spare", "good")


def _fit_words(now: Mapping[str, Any] | None) -> str:
    if now is None:
        return ""
    fits = now["metrics"]["fits"]
    if fits is None:
        return "No bodies are given for this base, so the fit is not known."
    return "✓ It fits around the mechanisms." if fits else "✕ It does not fit as drawn."


def _limits(now: Mapping[str, Any] | None, system: UnitSystem) -> list[str]:
    """Return which limit governs over which speeds, in words."""
    if now is None:
        return []
    return [
        f"{show(part['from_mps'], 'mps', system, digits=2)} to "
        f"{show(part['to_mps'], 'mps', system, digits=3)}: {part['limit']}"
        for part in now["segments"]
    ]


def _ledger_view(ledger: Ledger, system: UnitSystem) -> LedgerView:
    before, after = ledger.before, ledger.after
    swap = ledger.candidate != ledger.baseline
    totals = [
        _total("Mass that the limit counts", before.legal_kg, after.legal_kg, system),
        _total("Moving mass", before.moving_kg, after.moving_kg, system),
        _total("Left of the limit", before.margin_kg, after.margin_kg, system),
    ]
    left = after.margin_kg
    margin = show(abs(left), "kg", system)
    limit = show(after.limit_kg, "kg", system)
    return LedgerView(
        swap=swap,
        stays=_ledger_lines(ledger.stays, system),
        goes_out=_ledger_lines(ledger.goes_out, system),
        comes_in=_ledger_lines(ledger.comes_in, system),
        stays_total=show(ledger.stays_kg, "kg", system),
        goes_out_total=show(ledger.goes_out_kg, "kg", system),
        comes_in_total=show(ledger.comes_in_kg, "kg", system),
        totals=totals,
        margin_words=(
            f"✓ {margin} under the limit of {limit}."
            if left >= 0
            else f"✕ {margin} over the limit of {limit}: so much has to come off."
        ),
        margin_css="good" if left >= 0 else "bad",
    )


def _ledger_lines(rows: Sequence[LedgerRow], system: UnitSystem) -> list[LedgerLine]:
    return [
        LedgerLine(
            name=row.name + (f" × {row.quantity}" if row.quantity > 1 else ""),
            mass=show(row.mass_kg, "kg", system),
            exempt=row.exempt,
        )
        for row in rows
    ]


def _total(
    words: str, before: float, after: float, system: UnitSystem
) -> tuple[str, str, str, str]:
    texts = [show(value, "kg", system, decimals=2) for value in (before, after)]
    moved = show(after - before, "kg", system, decimals=2, signed=True)
    return words, texts[0], texts[1], moved


def _masses(study: Study, key: str, system: UnitSystem) -> dict[str, str]:
    """Return the mass of each part that follows from a shape, by the row's name in the form."""
    parts = study.candidate(key).parts
    rows = mass_ledger(study, study.candidate(key))
    own = rows.comes_in or rows.stays[len(rows.stays) - len(parts) :]
    return {
        f"parts.{index}": show(row.mass_kg / row.quantity, "kg", system)
        for index, row in enumerate(own)
        if row.origin != "stated"
    }
