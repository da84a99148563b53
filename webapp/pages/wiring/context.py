"""What the wiring page shows: whether breakers hold, what cables stand, which slots are free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import NotFoundError
from models.study.schema import Study
from models.trade.phrases import capitalised, listed
from models.trade.slots import SLOTS, Slot, slots_of
from models.trade.wiring import HOLDS
from models.units import FOOT_M, NOT_GIVEN, UnitSystem, quoted, show
from webapp.pages.wiring.curves import breaker_plot
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.charts.context import SHOWN_AT_MOST, shown_marks
from webapp.shared.figures.table import FigureCell, FigureRow
from webapp.shared.links import StudyLinks
from webapp.shared.power.words import battery_called

BREAKERS = (("main", "Main breaker"), ("branch", "Branch breakers"))
LOADS = (
    ("push", "In a push"),
    ("rms", "Through a match"),
    ("peak", "At its greatest current"),
)
HINTS = {
    "rms": "At the root mean square of its current.",
    "peak": "If that lasted; it comes for moments.",
}


@dataclass(frozen=True)
class Wired:
    """One candidate on the page."""

    mark: CandidateMark
    figures: dict[str, Any]
    slots: tuple[Slot, ...]

    @property
    def called(self) -> str:
        """How sentences call it."""
        return f"today's {self.mark.letter}" if self.mark.baseline else self.mark.letter


@dataclass(frozen=True)
class CableRow:
    """One cable: what it is, what it stands, and what the picked candidate sends through it."""

    name: str
    runs: str
    size: str
    length: str
    resistance: str
    stands: FigureCell
    current: FigureCell
    drop: str
    heat: str


def wiring_context(
    study: Study,
    power: dict[str, Any],
    wiring: dict[str, Any],
    links: StudyLinks,
    system: UnitSystem,
    *,
    candidate: str | None = None,
    shown: Sequence[str] | None = None,
) -> dict[str, Any]:
    """Return what `pages/wiring/wiring.html` shows.

    Parameters
    ----------
    study : Study
        The study.
    power, wiring : dict
        What `power_of` and `wiring_of_state` returned for it.
    links : StudyLinks
        An editor's.
    system : UnitSystem
        Units in which figures are shown.
    candidate : str, optional
        Whose currents stand beside the cables; the greediest where left out.
    shown : sequence of str, optional
        Keys of the candidates in the tables.
    """
    if candidate is not None and all(one.key != candidate for one in study.candidates):
        raise NotFoundError(f"The study has no candidate with the key {quoted(candidate[:60])}.")
    marks = shown_marks(study, shown, candidate)
    kept = None if shown is None else [mark.key for mark in marks]
    by_key = {one["key"]: one for one in wiring["candidates"]}
    ones = [
        Wired(mark, by_key[mark.key], slots_of(study, study.candidate(mark.key))) for mark in marks
    ]
    picked = next((one for one in ones if one.mark.key == candidate), None) or max(
        ones, key=lambda one: _row(one, "main")["peak_a"] or 0.0
    )
    return {
        "marks": marks,
        "choices": marks_of(study),
        "most": SHOWN_AT_MOST,
        "address": links.wiring(),
        "battery_words": battery_called(power["battery"]),
        "lead": [*breaker_words(ones, wiring), slot_words(ones)],
        "unprotected": _unprotected_words(wiring),
        "cable_warnings": [one["text"] for one in wiring["warnings"] if one["key"] is None],
        "warnings": _own_warnings(ones, wiring),
        "breakers": [_breaker(which, name, ones, wiring, system) for which, name in BREAKERS],
        "plots": [
            plot for which, name in BREAKERS
            if (plot := breaker_plot(name, wiring[which], _pushes(ones, which))) is not None
        ],
        "picked": picked.mark,
        "picks": [(mark, links.wiring(candidate=mark.key, show=kept)) for mark in marks],
        "cables": [
            _cable(cable, through, system)
            for cable, through in zip(wiring["cables"], picked.figures["cables"], strict=True)
        ],
        "heat_unit": "W/m" if system is UnitSystem.SI else "W/ft",
        "verdicts": _verdicts(ones, wiring),
        "slot_rows": _slot_rows(ones),
        "counted": _counted_words(ones),
        "sources": wiring["sources"],
    }  # fmt: skip


def _row(one: Wired, which: str) -> dict[str, Any]:
    row: dict[str, Any] = next(row for row in one.figures["breakers"] if row["which"] == which)
    return row


def _pushes(ones: Sequence[Wired], which: str) -> list[tuple[str, float]]:
    found = [(one.mark.letter, _row(one, which)["push_a"]) for one in ones]
    return [(letter, amperes) for letter, amperes in found if amperes is not None]


def seconds_words(seconds: float) -> str:
    """Return a breaker's time in words.

    >>> seconds_words(7.46), seconds_words(28.4), seconds_words(1200.0)
    ('7.5 s', '28 s', '20 min')
    """
    if seconds >= 600.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds:.1f} s" if seconds < 10.0 else f"{seconds:.0f} s"


def breaker_words(ones: Sequence[Wired], wiring: dict[str, Any]) -> list[str]:
    """Return which breakers open in a push or through a match, and after how long."""
    opens: list[str] = []
    unknown: list[str] = []
    for which, name in BREAKERS:
        if wiring[which]["rating_a"] is None or not wiring[which]["curve"]:
            unknown.append("the main breaker" if which == "main" else "the branch breakers")
            continue
        for key, when in (("push_s", "in a push"), ("rms_s", "through a match")):
            timed = [(one, _row(one, which)[key]) for one in ones]
            open_ = [(one, time) for one, time in timed if time not in (None, HOLDS)]
            if open_:
                soonest = min(float(time) for _, time in open_)
                after = seconds_words(soonest)
                if len(open_) > 1:
                    after = f"{after} at the soonest"
                verb = "opens" if which == "main" else "open"
                who = listed([one.called for one, _ in open_])
                opens.append(f"The {name.lower()} {verb} {when} of {who}, after {after}.")
    if not opens and not unknown:
        matches = any(_row(one, "main")["rms_a"] is not None for one in ones)
        both = "in every push and through every match" if matches else "in every push"
        opens.append(f"Main and branch breakers hold {both}.")
    elif not opens and len(unknown) == 1:
        opens.append("The breaker whose curve is given holds.")
    if unknown:
        opens.append(f"Nobody can tell when {listed(unknown)} would open: type the maker's curve.")
    return opens


def slot_words(ones: Sequence[Wired]) -> str:
    """Return whose base takes more slots than there are."""
    over = [
        f"{one.called} is {-slot.free} short of {slot.name.lower()}"
        for one in ones
        for slot in one.slots
        if slot.free is not None and slot.free < 0
    ]
    if over:
        return f"Slots: {'; '.join(over)}."
    if all(slot.there is None for one in ones for slot in one.slots):
        return "How many slots there are is not given."
    missing = [slot.name.lower() for slot in ones[0].slots if slot.there is None]
    text = "Every one of these finds its slots"
    return f"{text}, but {listed(missing)} are not given." if missing else f"{text}."


def _unprotected_words(wiring: dict[str, Any]) -> str:
    """Return which cables their breaker does not protect, and what does."""
    told = [one for one in wiring["warnings"] if one["key"] is None]
    names = [
        quoted(cable["name"])
        for cable in wiring["cables"]
        if any(one["text"].startswith(f"{cable['name']}:") for one in told)
    ]
    if not names:
        return ""
    many = len(names) > 1
    return (
        f"{listed(names)} {'get' if many else 'gets'} too hot before the breaker in front of "
        f"{'them' if many else 'it'} opens. {told[0]['advice']}"
    )


def _own_warnings(ones: Sequence[Wired], wiring: dict[str, Any]) -> list[str]:
    """Return what is told of single candidates; what is told of several alike, once."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in ones:
        for told in wiring["warnings"]:
            if told["key"] == one.mark.key:
                text = told["text"].removeprefix(f"{one.mark.name}: ")
                found.setdefault((text, told["advice"]), []).append(one.called)
    return [f"{capitalised(listed(who))}: {text} {advice}" for (text, advice), who in found.items()]


def _breaker(
    which: str, name: str, ones: Sequence[Wired], wiring: dict[str, Any], system: UnitSystem
) -> dict[str, Any]:
    """Return one breaker's words and its table."""
    found = wiring[which]
    rows = [
        FigureRow(words, "", tuple(_opens(_row(one, which), key, system) for one in ones),
                  HINTS.get(key, ""))
        for key, words in LOADS
    ]  # fmt: skip
    words = []
    if found["rating_a"] is not None:
        words.append(f"Rated for {found['rating_a']:g} A.")
        if found["curve"]:
            words.append(f"Up to {show(found['holds_a'], 'a', system)} it never opens.")
        if isinstance(found["double_s"], float):
            words.append(f"Twice its rating it carries for {seconds_words(found['double_s'])}.")
    return {"which": which, "name": name, "words": " ".join(words), "rows": rows,
            "given": found["rating_a"] is not None, "curve": bool(found["curve"])}  # fmt: skip


def _opens(row: dict[str, Any], key: str, system: UnitSystem) -> FigureCell:
    """Return what a breaker does at one current."""
    current, time, rating = row[f"{key}_a"], row[f"{key}_s"], row["rating_a"]
    if current is None:
        return FigureCell("no match", missing=True)
    note = show(current, "a", system)
    if rating is not None:
        note += f", {current / rating:.2f} × its rating"
    if time is None:
        return FigureCell(NOT_GIVEN, note, "faint", missing=True)
    if time == HOLDS:
        return FigureCell("✓ holds", note, "faint")
    sign = "" if key == "peak" else "✕ "
    return FigureCell(f"{sign}opens after {seconds_words(float(time))}", note,
                      "faint" if key == "peak" else "bad")  # fmt: skip


def _cable(cable: dict[str, Any], through: dict[str, Any], system: UnitSystem) -> CableRow:
    gauge = cable["gauge_awg"]
    area = show(cable["area_mm2"], "mm2", system)
    size = area if gauge is None else f"{gauge} AWG, {area}"
    warmth = show(cable["temperature_c"], "c", system, decimals=0)
    steady = show(cable["steady_a"], "a", system)
    late = FigureCell(steady)
    if cable["too_slow_a"] is not None:
        late = FigureCell(
            steady,
            f"✕ at {show(cable['too_slow_a'], 'a', system)} too hot in "
            f"{seconds_words(cable['cable_s'])}, its breaker takes "
            f"{seconds_words(cable['breaker_s'])}",
            "bad",
        )
    rms = through["rms_a"]
    current = FigureCell("no match", missing=True)
    if rms is not None:
        note = "✕ more than it carries" if rms > cable["steady_a"] else ""
        current = FigureCell(show(rms, "a", system), note, "bad")
    heat = through["heat_w_per_m"]
    if heat is not None and system is not UnitSystem.SI:
        heat *= FOOT_M
    peak, drop = through["peak_a"], NOT_GIVEN
    if peak is not None:
        volts = show(through["peak_drop_v"], "v", system, decimals=2)
        drop = f"{volts} at {show(peak, 'a', system)}"
    return CableRow(
        name=cable["name"],
        runs="all current" if cable["runs"] == "main" else "one motor's",
        size=size,
        length=show(cable["length_m"], "m", system, digits=2),
        resistance=f"{1000 * cable['resistance_ohm']:.2f} mΩ at {warmth}",
        stands=late,
        current=current,
        drop=drop,
        heat="no match" if heat is None else f"{heat:.1f}",
    )


def _verdicts(ones: Sequence[Wired], wiring: dict[str, Any]) -> list[str]:
    """Return whether typed resistances fit the cables, alike sentences once."""
    found = {wiring["main"]["verdict"]: ""} if wiring["main"]["verdict"] else {}
    said: dict[str, list[str]] = {}
    for one in ones:
        if one.figures["verdict"]:
            said.setdefault(one.figures["verdict"], []).append(one.mark.letter)
    return [*found, *(f"{listed(who)}: {words}" for words, who in said.items())]


def _slot_rows(ones: Sequence[Wired]) -> list[FigureRow]:
    rows = []
    for place, (_, name) in enumerate(SLOTS):
        slots = [one.slots[place] for one in ones]
        there, stays = slots[0].there, slots[0].stays
        hint = f"{there} there, {stays} taken by what stays" if there is not None else (
            f"how many there are is not given; {stays} taken by what stays"
        )  # fmt: skip
        rows.append(FigureRow(name, "", tuple(_slot(slot) for slot in slots), hint))
    return rows


def _slot(slot: Slot) -> FigureCell:
    note = f"takes {slot.takes}, {'typed' if slot.typed else 'counted'}"
    if slot.free is None:
        return FigureCell(NOT_GIVEN, note, "faint", missing=True)
    if slot.free < 0:
        return FigureCell(f"✕ {-slot.free} over", note, "bad")
    return FigureCell(f"✓ {slot.free} free" if slot.free else "✓ just enough", note, "faint")


def _counted_words(ones: Sequence[Wired]) -> str:
    """Return for whom slots were counted, not typed."""
    counted = [one for one in ones if any(not slot.typed for slot in one.slots)]
    typed = [one for one in ones if one not in counted]
    parts = []
    if counted:
        parts.append(f"counted from layout and motors for {listed([o.called for o in counted])}")
    if typed:
        parts.append(f"typed for {listed([one.called for one in typed])}")
    return f"What a base takes is {' and '.join(parts)}."
