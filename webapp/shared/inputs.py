"""What a page needs to show the boxes of a form: label, unit, text, range, fault, effect."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from models.engineering.materials import MATERIALS
from models.errors import Fault, UnitError
from models.study.fields import FieldSpec
from models.study.numbers import SOURCES, NumberRefusedError, tooth_stages
from models.study.schema import Study
from models.units import UnitSystem, parse_number, show
from webapp.forms import (
    ESTIMATE_PARTS,
    Path,
    corners_text,
    id_of,
    name_of_fault,
    rectangle_of,
    split_name,
)
from webapp.shared.formunits import FormUnit, field_words, form_unit, is_bare, leaf_kind, shown_text

SOURCE_WORDS = {
    "measured": "measured",
    "datasheet": "from a datasheet",
    "practice": "common practice",
    "assumed": "assumed",
}
ROW_WORDS = {
    "parts": "part",
    "bodies": "body",
    "keepouts": "keep-out",
    "poses": "pose",
    "moves": "moved part",
    "loads": "load",
    "batteries": "battery",
    "cables": "cable",
    "obstacles": "obstacle",
    "main_breaker_curve": "main breaker, point",
    "branch_breaker_curve": "branch breaker, point",
    "ratios_on_offer": "ratio on offer",
    "partners": "partner",
    "upright": "upright volume",
    "inverted": "inverted volume",
    "routes": "route",
    "legs": "leg",
    "tasks": "task",
    "purchases": "purchase",
    "meetings": "meeting",
    "extra": "extra day",
    "days_off": "day off",
    "gates": "gate",
    "criteria": "criterion",
    "crew_rows": "crew",
}
"""The word for one row of each list, for messages."""

_OWN_FORMS = {
    "date": re.compile(r"\d{4}-\d{2}-\d{2}"),
    "time": re.compile(r"[0-2]\d:[0-5]\d"),
}
"""How a browser's own boxes for dates and times write their values."""


@dataclass(frozen=True)
class EstimateView:
    """The range and source of a number, as text in boxes and in one short phrase."""

    low: str
    high: str
    source: str
    note: str
    words: str
    short: str
    """The range alone, where there is little room."""

    @property
    def given(self) -> bool:
        """True where anything is said about the number."""
        return bool(self.low or self.high or self.source or self.note)


@dataclass(frozen=True)
class InputView:
    """One box of a form."""

    name: str
    label: str
    kind: str
    unit: str
    hint: str
    text: str
    choices: tuple[tuple[str, str], ...]
    chosen: tuple[str, ...]
    required: bool
    empty_means: str
    meaning: str
    """What the text comes to where it is typed in another unit or as tooth counts."""
    estimate: EstimateView | None
    faults: tuple[str, ...]
    never_negative: bool
    takes_chain: bool

    @property
    def id(self) -> str:
        """The id of the box."""
        return id_of(self.name)

    @property
    def input_type(self) -> str:
        """What the browser is asked for; a date or time that it could not show stays text."""
        shape = _OWN_FORMS.get(self.kind)
        shown = shape is not None and (not self.text or shape.fullmatch(self.text))
        return self.kind if shown else "text"


@dataclass
class Sheet:
    """One form: the values it shows and the faults that were found in them.

    `values` is what the form's names start from (a section, or several under their own names),
    `place` the schema place of that start.
    """

    values: Any
    place: str
    system: UnitSystem
    faults: Mapping[str, Sequence[str]] = field(default_factory=dict)
    choices: Mapping[str, Sequence[tuple[str, str]]] = field(default_factory=dict)
    """Values to choose from, with their words, for fields that name something of the study."""
    origins: Mapping[str, str] | None = None
    """Which stored row each row began as, where the values were typed and not yet saved."""

    def value(self, name: str) -> Any:
        """Return the stored or typed value at a name, None where there is none."""
        found = self.values
        for step in split_name(name)[0]:
            if isinstance(found, dict):
                found = found.get(step)
            elif isinstance(found, list) and isinstance(step, int) and step < len(found):
                found = found[step]
            else:
                return None
        return found

    def schema_place(self, name: str) -> str:
        """Return the place in the study schema that a name means."""
        place = self.place
        for step in split_name(name)[0]:
            place += "[]" if isinstance(step, int) else f".{step}" if place else str(step)
        return place

    def rows(self, name: str) -> range:
        """Return the row numbers of the list at a name."""
        value = self.value(name)
        return range(len(value) if isinstance(value, list) else 0)

    def was(self, name: str) -> str:
        """Return the number of the stored row that a row began as, "" for a new one."""
        if self.origins is not None:
            return self.origins.get(name, "")
        return name.rpartition(".")[2]

    def faults_of(self, name: str) -> tuple[str, ...]:
        """Return the messages for a name and for what the form says about it."""
        found = list(self.faults.get(name, ()))
        for part in ESTIMATE_PARTS:
            found += self.faults.get(f"{name}:{part}", ())
        return tuple(found)

    def box(self, name: str, label: str = "", hint: str | None = None) -> InputView:
        """Return the box of a name."""
        place = self.schema_place(name)
        words = field_words(place)
        kind: str = leaf_kind(place)
        value = self.value(name)
        own = self.choices.get(place.rpartition(".")[2])
        kind = kind if own is None else "choice"
        unit = form_unit(place, self.system)
        return InputView(
            name=name,
            label=label or words.label,
            kind=kind,
            unit=unit.text,
            hint=words.hint if hint is None else hint,
            text=_text_of(_shown_value(value, words), kind, unit),
            choices=tuple(own or ((choice, choice) for choice in words.choices)),
            chosen=_chosen(value, kind, words.default),
            required=words.required,
            empty_means=_empty_means(words.default, unit),
            meaning=_meaning(value, unit, words.is_ratio) if kind == "number" else "",
            estimate=_estimate_view(value, unit) if words.kind == "number" else None,
            faults=self.faults_of(name),
            never_negative=words.minimum is not None and words.minimum >= 0,
            takes_chain=words.is_ratio,
        )

    def side(self, name: str, side: str) -> InputView:
        """Return the box for one side of an outline that is a rectangle."""
        unit = form_unit(self.schema_place(name), self.system)
        sides = rectangle_of(self.value(name)) or {}
        return self._about_outline(name, side, shown_text(sides.get(side), unit), unit)

    def corners(self, name: str) -> InputView:
        """Return the box that holds an outline as a list of corners."""
        unit = form_unit(self.schema_place(name), self.system)
        return self._about_outline(name, "corners", corners_text(self.value(name), unit), unit)

    def is_rectangle(self, name: str) -> bool:
        """Return whether an outline is shown by its four sides."""
        outline = self.value(name)
        return outline is None or rectangle_of(outline) is not None

    def _about_outline(self, name: str, about: str, text: str, unit: FormUnit) -> InputView:
        whole = f"{name}:{about}"
        return InputView(
            name=whole, label="", kind="number", unit=unit.text, hint="", text=text, choices=(),
            chosen=(), required=True, empty_means="", meaning="", estimate=None,
            faults=tuple(self.faults.get(whole, ())), never_negative=False,
            takes_chain=False,
        )  # fmt: skip


def faults_by_name(
    faults: Iterable[Fault], sections: Collection[Path], names: Collection[str]
) -> tuple[dict[str, list[str]], list[tuple[str | None, str]]]:
    """Sort faults to the form's fields; return them by name, and as a list for the summary.

    `sections` are the document places from which the form's names start. A fault that no field
    of the form can mend keeps its place in its message and has no field to link to.
    """
    by_name: dict[str, list[str]] = {}
    summary: list[tuple[str | None, str]] = []
    for fault in faults:
        found = (name_of_fault(fault, section, names) for section in sections)
        name = next((name for name in found if name is not None), None)
        if name is None:
            summary.append((None, str(fault)))
        else:
            by_name.setdefault(name, []).append(fault.message)
            summary.append((id_of(name), _with_row(name, fault.message)))
    return by_name, summary


def material_choices(study: Study) -> list[tuple[str, str]]:
    """Return the materials that parts may be made of: the program's and the study's own."""
    own = {key: material.name for key, material in study.materials.items()}
    known = {key: key.replace("_", " ") for key in MATERIALS}
    return sorted((known | own).items())


def _shown_value(value: Any, words: FieldSpec) -> Any:
    """Return the value to show: a count that is not stated shows what counts instead."""
    return words.default if value is None and words.kind == "whole" else value


def _with_row(name: str, message: str) -> str:
    """Return a message with the rows in which its field stands.

    >>> _with_row("routes.0.legs.2.action_s", "Type a number.")
    'Route 1, leg 3: Type a number.'
    """
    steps = split_name(name)[0]
    rows = [
        f"{ROW_WORDS[str(before)]} {step + 1}"
        for before, step in pairwise(steps)
        if isinstance(step, int) and before in ROW_WORDS
    ]
    if not rows:
        return message
    words = ", ".join(rows)
    return f"{words[0].upper()}{words[1:]}: {message}"


def _text_of(value: Any, kind: str, unit: FormUnit) -> str:
    if kind == "number":
        return shown_text(value, unit)
    return "" if value is None or isinstance(value, list | dict | bool) else str(value)


def _chosen(value: Any, kind: str, default: Any) -> tuple[str, ...]:
    if kind == "truth":
        said = default if value is None else value
        return ("yes",) if said is True else ("no",)
    if kind == "indexes":
        return tuple(str(index) for index in value) if isinstance(value, list) else ()
    given = default if value is None else value
    return () if given is None else (str(given),)


def _empty_means(default: Any, unit: FormUnit) -> str:
    if not default or not isinstance(default, int | float) or isinstance(default, bool):
        return ""
    shown = shown_text(float(default), unit)
    return f"{shown} {unit.text}".strip() + " when left empty"


def _estimate_view(value: Any, unit: FormUnit) -> EstimateView:
    about = value if isinstance(value, dict) else {}
    low, high = shown_text(about.get("low"), unit), shown_text(about.get("high"), unit)
    source = str(about["source"]) if about.get("source") in SOURCES else ""
    unit_text = unit.text if all(is_bare(text) for text in (low, high) if text) else ""
    span = f"{low or '?'} to {high or '?'} {unit_text}".strip() if low or high else ""
    words = ", ".join(part for part in (SOURCE_WORDS.get(source, ""), span) if part)
    short = f"{low or '?'} to {high or '?'}" if span else SOURCE_WORDS.get(source, "")
    return EstimateView(low, high, source or "", str(about.get("note") or ""), words, short)


def _meaning(value: Any, unit: FormUnit, is_ratio: bool) -> str:
    typed = value.get("value") if isinstance(value, dict) else value
    if not isinstance(typed, str):
        return ""
    if is_ratio and (":" in typed or "/" in typed):
        return _stages_in_words(typed)
    if shown_text(typed, unit) != typed:
        return ""
    try:
        meant = parse_number(typed, unit.key, default_unit_text=unit.text or None)
    except UnitError:
        return ""
    small = unit.small if unit.key else None
    return (
        "" if unit.key == "" else f"= {show(meant, unit.key, unit.system, digits=4, small=small)}"
    )


def _stages_in_words(typed: str) -> str:
    try:
        chain = tooth_stages(typed)
    except NumberRefusedError:
        return ""
    if len(chain.stages) == 1:
        return f"= {chain.reduction:.4g} : 1"
    stages = " × ".join(f"{stage.reduction:.3f}" for stage in chain.stages)
    return f"{stages} = {chain.reduction:.4g} : 1"
