"""What the arrange page shows: the search, its outcome in words, the best few drawn."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from models.engineering.arrangement_ranking import ORDERS
from models.errors import OutOfRangeError, UnitError
from models.quantities import METRICS
from models.services import StudyState
from models.study.schema import Candidate, Study
from models.trade.arranging import FIGURES, ArrangeSettings, arrange, rearranged
from models.trade.arranging_words import (
    change_words,
    corner_words,
    shift_words,
    verdict_words,
)
from models.trade.scene import fit_scene
from models.units import UnitSystem, display_unit, parse_number, show
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.drawings.context import small_plans
from webapp.shared.drawings.shapes import View
from webapp.shared.links import StudyLinks

MOST_ROWS = 40
ORDER_WORDS = {
    "support-area": "largest support polygon",
    "clearance": "greatest least clearance",
    "fewest-inverted": "fewest inverted modules",
    "wheelbase": "longest wheelbase",
}
USUAL = {UnitSystem.SI: ("40", "10"), UnitSystem.INCH_POUND: ("1.5", "0.25")}
"""Range and step that the form begins with, in its own unit."""
SIGNS = {"good": "✓", "watch": "!", "bad": "✕"}


@dataclass(frozen=True)
class Asked:
    """The form as it was sent, kept as typed."""

    candidate: str | None
    largest: str
    step: str
    order: str
    free_sides: bool


@dataclass(frozen=True)
class ArrangementCard:
    """One of the best arrangements, drawn."""

    number: int
    words: str
    plan: View
    figures: list[tuple[str, str]]
    corners: dict[str, str]
    """Form fields that name the arrangement."""


@dataclass(frozen=True)
class NearestCard:
    """An arrangement that would fit if something gave way, before and after."""

    words: str
    changes: list[str]
    now: View
    after: View | None
    corners: dict[str, str]


@dataclass(frozen=True)
class ArrangementRow:
    """One line of the list."""

    number: int
    words: str
    area: str
    margin: str
    wheelbase: str
    inverted: int


def asked_of(
    system: UnitSystem,
    candidate: str | None,
    *,
    largest: str | None,
    step: str | None,
    order: str | None,
    sides: str | None,
) -> Asked:
    """Return what the address asks for, the usual values where it says nothing."""
    usual = USUAL[system]
    return Asked(
        candidate=candidate,
        largest=(usual[0] if largest is None else largest)[:40],
        step=(usual[1] if step is None else step)[:40],
        order=order if order in ORDERS else ORDERS[0],
        free_sides=sides == "free",
    )


def arrange_context(
    state: StudyState, system: UnitSystem, asked: Asked
) -> tuple[int, dict[str, Any]]:
    """Return the status and context of arrange.html.

    The first steered candidate where none is asked for; raises `NotFoundError` for one that the
    study does not have.
    """
    study, links = state.study, StudyLinks.of_state(state)
    candidate = _chosen(study, asked.candidate)
    marks = marks_of(study)
    unit = display_unit("m", system, small=True)
    context: dict[str, Any] = {
        "state": state,
        "links": links,
        "nav": "fit",
        "asked": asked,
        "unit": unit,
        "marks": marks,
        "mark": next(mark for mark in marks if mark.key == candidate.key),
        "orders": list(ORDER_WORDS.items()),
        "fault": "",
        "once": secrets.token_urlsafe(12),
        **_nothing(candidate),
    }
    try:
        settings = ArrangeSettings(
            largest_m=parse_number(asked.largest, "m", default_unit_text=unit),
            step_m=parse_number(asked.step, "m", default_unit_text=unit),
            order=asked.order,
            mirrored=not asked.free_sides,
            most=MOST_ROWS,
        )
        found = _search(_Known(state.revision.hash, study), candidate.key, settings)
    except (UnitError, OutOfRangeError) as error:
        return 422, {**context, "fault": str(error)}
    kind, words = verdict_words(found, system)
    context["verdict"] = (SIGNS[kind], kind, words)
    context["cards"] = _cards(study, candidate, found, system)
    context["rows"] = _rows(found, system)
    context["more"] = max(found["feasible"] - len(context["rows"]), 0) if found["steered"] else 0
    context["nearest"] = _nearest(study, candidate, found, system)
    context["shifts"] = [f"{shift_words(shift, system)}." for shift in found["shifts"]]
    return 200, context


def _nothing(candidate: Candidate) -> dict[str, Any]:
    return {
        "steered": candidate.modules is not None,
        "verdict": None,
        "cards": [],
        "rows": [],
        "more": 0,
        "nearest": [],
        "shifts": [],
    }


def _chosen(study: Study, key: str | None) -> Candidate:
    if key is not None:
        return study.candidate(key)
    steered = (one for one in study.candidates if one.modules is not None)
    return next(steered, study.baseline)


class _Known:
    """A study that is known by its document's hash, so that its searches can be kept."""

    def __init__(self, document_hash: str, study: Study) -> None:
        self.document_hash = document_hash
        self.study = study

    def __hash__(self) -> int:
        return hash(self.document_hash)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Known) and self.document_hash == other.document_hash


@lru_cache(maxsize=16)
def _search(known: _Known, key: str, settings: ArrangeSettings) -> dict[str, Any]:
    return arrange(known.study, known.study.candidate(key), settings)


def fields_of(corners: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    """Return the form fields that name an arrangement: "inverted 0.01 0"."""
    return {
        name: f"{corner['orientation']} {corner['inset_m'][0]!r} {corner['inset_m'][1]!r}"
        for name, corner in corners.items()
    }


def _cards(
    study: Study, candidate: Candidate, found: Mapping[str, Any], system: UnitSystem
) -> list[ArrangementCard]:
    drawn = [entry for entry in found["arrangements"] if "figures" in entry]
    scenes = {
        str(index): fit_scene(study, rearranged(candidate, entry["corners"]))
        for index, entry in enumerate(drawn)
    }
    plans = small_plans(scenes)
    return [
        ArrangementCard(
            number=index + 1,
            words=_sentence(corner_words(entry["corners"], system)),
            plan=plans[str(index)],
            figures=_figures(entry, system),
            corners=fields_of(entry["corners"]),
        )
        for index, entry in enumerate(drawn)
    ]


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _figures(entry: Mapping[str, Any], system: UnitSystem) -> list[tuple[str, str]]:
    margin = entry["worst_clearance_margin_m"]
    kept = "no keep-outs" if margin is None else show(margin, "m", system, small=True, signed=True)
    return [
        ("Support polygon", show(entry["support_area_m2"], "m2", system)),
        ("Least margin", kept),
        ("Wheelbase", show(entry["wheelbase_m"], "m", system)),
        *(
            (METRICS[name].name, show(entry["figures"][name], METRICS[name].unit, system))
            for name in FIGURES
        ),
    ]


def _rows(found: Mapping[str, Any], system: UnitSystem) -> list[ArrangementRow]:
    return [
        ArrangementRow(
            number=number,
            words=_sentence(corner_words(entry["corners"], system)),
            area=show(entry["support_area_m2"], "m2", system),
            margin=show(entry["worst_clearance_margin_m"], "m", system, small=True, signed=True),
            wheelbase=show(entry["wheelbase_m"], "m", system),
            inverted=entry["inverted"],
        )
        for number, entry in enumerate(found["arrangements"][:MOST_ROWS], start=1)
    ]


def _nearest(
    study: Study, candidate: Candidate, found: Mapping[str, Any], system: UnitSystem
) -> list[NearestCard]:
    """Return what would have to give: for a base without modules, its bodies as they stand."""
    if found["nearest"]:
        return [
            _near(
                study,
                rearranged(candidate, entry["corners"]),
                entry["changes"],
                system,
                entry["corners"],
            )
            for entry in found["nearest"]
        ]
    if found["changes"]:
        return [_near(study, candidate, found["changes"], system, {})]
    return []


def _near(
    study: Study,
    placed: Candidate,
    changes: Sequence[Mapping[str, Any]],
    system: UnitSystem,
    corners: Mapping[str, Mapping[str, Any]],
) -> NearestCard:
    scenes = {"now": fit_scene(study, placed)}
    if all(change["move"] for change in changes):
        scenes["after"] = fit_scene(_with_moves(study, changes), placed)
    plans = small_plans(scenes)
    words = _sentence(corner_words(corners, system)) if corners else "As it is drawn"
    return NearestCard(
        words=words,
        changes=[f"{change_words(change, system)}." for change in changes],
        now=plans["now"],
        after=plans.get("after"),
        corners=fields_of(corners),
    )


def _with_moves(study: Study, changes: Sequence[Mapping[str, Any]]) -> Study:
    """Return the study with the keep-outs moved."""
    keepouts = list(study.robot.keepouts)
    for change in changes:
        forward, left = change["move"]["by_m"]
        keepout = keepouts[change["index"]]
        moved = tuple((x + forward, y + left) for x, y in keepout.outline_m)
        keepouts[change["index"]] = keepout.model_copy(update={"outline_m": moved})
    robot = study.robot.model_copy(update={"keepouts": tuple(keepouts)})
    return study.model_copy(update={"robot": robot})


def shown_after(state: StudyState, key: str, new_key: str | None) -> list[str]:
    """Return the candidates that the overview shows first after one was added."""
    marks: list[CandidateMark] = marks_of(state.study)
    wanted = {mark.key for mark in marks if mark.baseline} | {key, new_key}
    return [mark.key for mark in marks if mark.key in wanted]
