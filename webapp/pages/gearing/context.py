"""What the explorer shows: the answer in words, the map, the exchange, what to buy, the limits."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

from models.quantities import METRICS
from models.services import StudyState
from models.study.schema import Candidate, Study
from models.trade.battery import batteries_of, battery_in_use
from models.trade.exploring import (
    Bench,
    Design,
    Offer,
    Sweep,
    along_ratio,
    axis_range,
    bench_of,
    design_of,
    offers_of,
    records,
    sweep,
    sweep_axes,
    teeth_of,
)
from models.trade.exploring_map import GearMap, gear_map
from models.trade.exploring_picks import picks_of
from models.trade.exploring_words import (
    exchange_words,
    lead_words,
    limit_text,
    limit_words,
    offer_words,
    ratio_text,
    tread_words,
)
from models.trade.limit_finder import LimitsWanted, find_limits
from models.units import UnitSystem, display_unit, show
from webapp.pages.gearing.asked import (
    AGAINST_WORDS,
    Asked,
    AskedWrongError,
    Typed,
    check_speed,
    read_asked,
    texts_for,
    texts_of,
)
from webapp.pages.gearing.picture import NARROW, WIDE, MapView, Subject, map_view
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.links import StudyLinks

FIGURES = (
    "sprint_stop_time_s",
    "sprint_time_s",
    "min_bus_voltage_v",
    "peak_bus_current_a",
    "push_force_n",
    "top_speed_mps",
    "free_speed_mps",
)
SIGNS = {"good": "✓", "watch": "!", "bad": "✕"}


@dataclass(frozen=True)
class Field:
    """A box of the form."""

    name: str
    label: str
    text: str
    hint: str
    fault: str
    decimal: bool = True


@dataclass(frozen=True)
class FigureRow:
    """One line of the table of the pick against the chosen design."""

    name: str
    chosen: str
    picked: str


@dataclass(frozen=True)
class DesignRow:
    """A design in a table, with where it leads."""

    name: str
    words: str
    figures: tuple[str, ...]
    tie: str
    address: str
    here: bool


@dataclass(frozen=True)
class PickCard:
    """A design that nothing beats, worth a look."""

    name: str
    design: str
    words: str
    address: str


def gearing_context(
    state: StudyState, system: UnitSystem, typed: Typed
) -> tuple[int, dict[str, Any]]:
    """Return the status and context of gearing.html.

    The baseline where no candidate is asked for; raises `NotFoundError` for one that the study
    does not have.
    """
    study, links = state.study, StudyLinks.of_state(state)
    candidate = study.candidate(typed.candidate) if typed.candidate else study.baseline
    marks = marks_of(study)
    mark = next(one for one in marks if one.key == candidate.key)
    texts = texts_of(study, candidate, typed, system)
    context: dict[str, Any] = {
        "state": state,
        "links": links,
        "nav": "gearing",
        "marks": marks,
        "mark": mark,
        "against": list(AGAINST_WORDS.items()),
        "asked_against": texts["against"],
        "batteries": _battery_choices(study),
        "asked_battery": texts["battery"],
        "shown": None,
    }
    try:
        asked = read_asked(candidate, texts, system)
        bench = bench_of(study, candidate, asked.battery)
        check_speed(bench, asked.design, system)
    except AskedWrongError as error:
        return 422, {**context, "fields": _fields(texts, error.faults, system),
                     "faults": list(error.faults.items())}  # fmt: skip
    context |= {"fields": _fields(texts, {}, system), "faults": []}
    known = _Known(state.revision.hash, study)
    context["shown"] = _shown(known, candidate, asked, _Reader(mark, links, system))
    context["take"] = _take(candidate, asked, state)
    return 200, context


class _Known:
    """A study that is known by its document's hash, so that what was worked out can be kept."""

    def __init__(self, document_hash: str, study: Study) -> None:
        self.document_hash = document_hash
        self.study = study

    def __hash__(self) -> int:
        return hash(self.document_hash)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Known) and self.document_hash == other.document_hash


def _bench(known: _Known, key: str, battery: str) -> Bench:
    return bench_of(known.study, known.study.candidate(key), battery)


@lru_cache(maxsize=32)
def _along(known: _Known, key: str, battery: str, design: Design, share: float) -> dict[str, Any]:
    offers = offers_of(known.study, known.study.candidate(key))
    return along_ratio(_bench(known, key, battery), design, offers, share)


@lru_cache(maxsize=16)
def _sweep(known: _Known, key: str, battery: str) -> Sweep:
    candidate = known.study.candidate(key)
    bench, own = _bench(known, key, battery), design_of(candidate)
    return sweep(bench, sweep_axes(bench, own, offers_of(known.study, candidate), {}))


@lru_cache(maxsize=32)
def _map(known: _Known, key: str, battery: str, design: Design, against: str) -> GearMap:
    bench, candidate = _bench(known, key, battery), known.study.candidate(key)
    own, offers = design_of(candidate), offers_of(known.study, candidate)
    axis = cast("Any", against)
    ranges = [
        axis_range(bench, one, name, offers) for name in ("ratio", axis) for one in (own, design)
    ]
    return gear_map(
        bench,
        design,
        axis=axis,
        ratios=_joined(*ranges[:2]),
        rows=_joined(*ranges[2:]),
    )


def _joined(first: tuple[float, float], last: tuple[float, float]) -> tuple[float, float]:
    return min(first[0], last[0]), max(first[1], last[1])


@lru_cache(maxsize=32)
def _limits(
    known: _Known, key: str, battery: str, design: Design, margin_v: float
) -> dict[str, Any]:
    return find_limits(_bench(known, key, battery), design, LimitsWanted(margin_v))


@dataclass(frozen=True)
class _Reader:
    """Whom the page is for: how the candidate is marked, where links lead, in which units."""

    mark: CandidateMark
    links: StudyLinks
    system: UnitSystem


def _shown(known: _Known, candidate: Candidate, asked: Asked, reader: _Reader) -> dict[str, Any]:
    """Return everything below the form."""
    key, battery, design = candidate.key, asked.battery, asked.design
    mark, system = reader.mark, reader.system
    bench, own = _bench(known, key, battery), design_of(candidate)
    offers = offers_of(known.study, candidate)
    chosen, picked = records(bench, [own, design])
    along = _along(known, key, battery, design, asked.share)
    found = {**along, "chosen": picked, "sprint_distance_m": bench.distance_m}
    limits = _limits(known, key, battery, design, asked.margin_v)
    address = _Addresses(reader.links, candidate, asked, offers, system)
    subject = Subject(
        found=_map(known, key, battery, design, asked.against),
        chosen=own,
        picked=design,
        letter=mark.letter,
        css=mark.css,
        offers=offers,
        intervals=along["tie_band"]["intervals"],
        brownout_v=bench.brownout_v,
        description=_description(asked, bench, system),
        against_words=AGAINST_WORDS[asked.against],
    )
    maps = [map_view(frame, subject, system) for frame in (WIDE, NARROW)]
    moved = design != own
    whole = _sweep(known, key, battery)
    unbeaten = picks_of(bench, whole, share=asked.share, margin_v=asked.margin_v)
    return {
        "leads": lead_words(found, system),
        "offers_said": offer_words(found),
        "held": ", ".join(_held(design, asked.against, system)),
        "held_all": ", ".join(_held(design, "", system)),
        "maps": maps,
        "map_notes": _map_notes(subject, maps[0], asked, system),
        "moved": moved,
        "exchange": exchange_words(chosen, picked, system) if moved else "",
        "rows": _figure_rows(chosen, picked, system),
        "offer_rows": _offer_rows(along["buyable"], offers, design, address, system),
        "offer_heads": _heads(system),
        "unbeaten_count": _grouped(unbeaten["count"]),
        "designs": _grouped(unbeaten["designs"]),
        "cards": _cards(unbeaten["picks"], chosen, address, system),
        "limits": [(SIGNS[kind], kind, words) for kind, words in limit_words(limits, system)],
        "limits_address": _limits_address(limits, design, address),
        "tread": tread_words(limits, system),
        "target": show(limits["target_v"], "v", system, decimals=1),
    }


class _Addresses:
    """Addresses of other designs with everything else of the form kept.

    A ratio on offer is named by its tooth counts, so that it is that very ratio.
    """

    def __init__(
        self,
        links: StudyLinks,
        candidate: Candidate,
        asked: Asked,
        offers: Sequence[Offer],
        system: UnitSystem,
    ) -> None:
        self.links = links
        self.key = candidate.key
        self.teeth = {offer.ratio: offer.teeth for offer in offers if offer.teeth}
        own = candidate.drive.ratio
        self.teeth |= {float(own): teeth_of(own)} if teeth_of(own) else {}
        self.system = system
        self.rest = {
            "against": asked.against,
            "tie": f"{100.0 * asked.share:.6g}",
            "battery": asked.battery,
            "margin": f"{asked.margin_v:.6g}",
        }

    def of(self, design: Design) -> str:
        """Return the address that shows a design as the pick."""
        texts = texts_for(design, self.system)
        texts["ratio"] = self.teeth.get(design.ratio, texts["ratio"])
        return f"{self.links.gearing(candidate=self.key, **texts, **self.rest)}#pick"


def _battery_choices(study: Study) -> list[tuple[str, str]]:
    used = battery_in_use(study).name
    return [
        (battery.name, f"{battery.name}{' (in use)' if battery.name == used else ''}")
        for battery in batteries_of(study)
    ]


def _fields(
    texts: Mapping[str, str], faults: Mapping[str, str], system: UnitSystem
) -> dict[str, Field]:
    millimetres = display_unit("m", system, small=True)
    words = (
        ("ratio", "Ratio", "or tooth counts, 50:14", False),
        ("diameter", f"Wheel diameter, {millimetres}", "", True),
        ("stator", "Stator limit, A", "empty for none", True),
        ("supply", "Supply limit, A", "empty for none", True),
        ("tie", "A tie within, %", "", True),
        ("margin", "Keep above brownout by, V", "", True),
    )
    return {
        name: Field(name, label, texts[name], hint, faults.get(name, ""), decimal)
        for name, label, hint, decimal in words
    }


def _take(candidate: Candidate, asked: Asked, state: StudyState) -> dict[str, str]:
    """Return the fields of the form that makes the pick a candidate."""
    design = asked.design
    return {
        "base_revision": str(state.revision.number),
        "candidate": candidate.key,
        "once": secrets.token_urlsafe(12),
        **{
            name: repr(value)
            for name, value in zip(("ratio", "diameter", "stator", "supply"), design, strict=True)
        },
    }


def _held(design: Design, against: str, system: UnitSystem) -> list[str]:
    """Return what stays as it is while the ratio and one other input change."""
    words = {
        "diameter": f"wheels of {show(design.diameter_m, 'm', system, digits=4)}",
        "stator": f"stator limit {_limit(design.stator_a, system)}",
        "supply": f"supply limit {_limit(design.supply_a, system)}",
    }
    return [text for name, text in words.items() if name != against]


def _limit(value: float, system: UnitSystem) -> str:
    return limit_text(None if value == float("inf") else value, system)


def _description(asked: Asked, bench: Bench, system: UnitSystem) -> str:
    distance = show(bench.distance_m, "m", system)
    return (
        f"Sprint and stop over {distance} as shading, by ratio and {AGAINST_WORDS[asked.against]}; "
        "lines of equal bus voltage and of equal push. The figures are in the tables below."
    )


def _map_notes(subject: Subject, view: MapView, asked: Asked, system: UnitSystem) -> list[str]:
    """Return what the map cannot show: a figure that is the same all over, a design off it."""
    notes = []
    push = subject.found.push
    if not any(line.css == "line-push" for line in view.lines) and push.size:
        force = show(float(push.max()), "n", system)
        notes.append(f"The push hardly changes on this map: {force}, so it has no lines.")
    if not any("mark-chosen" in mark.css for mark in view.marks):
        notes.append(f"{subject.letter} itself does not lie on this map, which holds other values.")
    return notes


def _figure_rows(
    chosen: Mapping[str, Any], picked: Mapping[str, Any], system: UnitSystem
) -> list[FigureRow]:
    limits = ("stator_limit_a", "supply_limit_a")
    texts = [
        [
            ratio_text(one["ratio"]),
            show(one["diameter_m"], "m", system, small=True, digits=4),
            *(limit_text(one[key], system) for key in limits),
            *(_figure(one, key, system) for key in FIGURES),
            {True: "yes", False: "no", None: "none"}[one["browns_out"]],
        ]
        for one in (chosen, picked)
    ]
    names = ["Ratio", "Wheel diameter", "Stator limit", "Supply limit"]
    names += [METRICS[key].name for key in (*FIGURES, "browns_out")]
    return [FigureRow(*three) for three in zip(names, *texts, strict=True)]


def _figure(one: Mapping[str, Any], key: str, system: UnitSystem) -> str:
    value = one[key]
    return "none" if value is None else show(value, METRICS[key].unit, system)


def _heads(system: UnitSystem) -> list[str]:
    return [
        f"Stop, {display_unit('s', system)}",
        f"Lowest bus, {display_unit('v', system)}",
        f"Push, {display_unit('n', system)}",
        f"Top speed, {display_unit('mps', system)}",
    ]


def _offer_rows(
    buyable: Sequence[Mapping[str, Any]],
    offers: Sequence[Offer],
    design: Design,
    address: _Addresses,
    system: UnitSystem,
) -> list[DesignRow]:
    rows = []
    for one, offer in zip(buyable, offers, strict=True):
        tie = "quickest on offer" if one["best"] else "a tie" if one["in_band"] else "outside"
        rows.append(
            DesignRow(
                name=ratio_text(offer.ratio),
                words=offer.teeth,
                figures=_bare_figures(one, system),
                tie=tie,
                address=address.of(design._replace(ratio=offer.ratio)),
                here=offer.ratio == design.ratio,
            )
        )
    return rows


def _bare_figures(one: Mapping[str, Any], system: UnitSystem) -> tuple[str, ...]:
    texts = []
    for key, decimals in (
        ("sprint_stop_time_s", 2),
        ("min_bus_voltage_v", 1),
        ("push_force_n", 0),
        ("top_speed_mps", 2),
    ):
        unit, value = METRICS[key].unit, one[key]
        shown = "none" if value is None else show(value, unit, system, decimals=decimals)
        texts.append(shown.rsplit(" ", 1)[0])
    return tuple(texts)


def _grouped(count: int) -> str:
    """Return a count with its thousands apart.

    >>> _grouped(20000) == "20\u202f000"
    True
    """
    return f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def _cards(
    picks: Sequence[Mapping[str, Any]],
    chosen: Mapping[str, Any],
    address: _Addresses,
    system: UnitSystem,
) -> list[PickCard]:
    return [
        PickCard(
            name=pick["name"],
            design=_design_words(pick["figures"], system),
            words=exchange_words(chosen, pick["figures"], system),
            address=address.of(pick["design"]),
        )
        for pick in picks
    ]


def _design_words(one: Mapping[str, Any], system: UnitSystem) -> str:
    wheel = show(one["diameter_m"], "m", system, small=True, digits=4)
    stator, supply = (limit_text(one[key], system) for key in ("stator_limit_a", "supply_limit_a"))
    return f"{ratio_text(one['ratio'])}, {wheel}, stator {stator}, supply {supply}"


def _limits_address(limits: Mapping[str, Any], design: Design, address: _Addresses) -> str | None:
    """Return the address that picks the limits found, None where they are the ones in hand."""
    if limits["status"] != "found":
        return None
    found = limits["found"]
    stator, supply = (
        float("inf") if found[key] is None else float(found[key])
        for key in ("stator_limit_a", "supply_limit_a")
    )
    other = design._replace(stator_a=stator, supply_a=supply)
    return None if other == design else address.of(other)
