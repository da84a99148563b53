"""Remarks on odd input, beside the box they are about, with a fix in one tap."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from models.errors import Fault
from models.study import Remark, Study, remarks_on
from models.units import UnitSystem
from webapp.forms import Path, id_of, name_of_fault, path_of_place
from webapp.shared.formunits import FormUnit, form_unit, is_bare, leaf_kind, shown_text

_ADVICE = re.compile(r"\btype ([-+]?[0-9]+(?:[.][0-9]+)?(?: [^\s.,;]+)?)[.]?$")
"""How a fault's message ends that knows what was meant: "type 4 in."."""


@dataclass(frozen=True)
class RemarkView:
    """A remark, and what its button would type into which boxes."""

    what: str
    why: str
    advice: str
    button: str
    fix: str
    """Names and texts of the boxes that the button fills, encoded as in an address."""


def remarks_beside(
    study: Study,
    sections: Collection[Path],
    names: Collection[str],
    system: UnitSystem,
    *,
    candidate_key: str | None = None,
) -> dict[str, list[RemarkView]]:
    """Return remarks by the name of the box or table beside which they stand.

    `sections` are the document places from which the form's names start. A remark about another
    candidate, or about no box of the form, is left out; "" holds those that fit no place.
    """
    sorted_in: dict[str, list[RemarkView]] = {}
    for remark in remarks_on(study):
        if remark.candidate_key != candidate_key:
            continue
        section = next((s for s in sections if path_of_place(remark.place)[: len(s)] == s), None)
        if section is None:
            if candidate_key is not None:
                sorted_in.setdefault("", []).append(_view(remark, "", system))
            continue
        name = name_of_fault(Fault(remark.place, ""), section, names) or ""
        own = remark.place == _place_of(study, section, name)
        sorted_in.setdefault(name, []).append(_view(remark, name if own else "", system))
    return sorted_in


def remark_places(
    names: Sequence[str],
    remarks: Mapping[str, list[RemarkView]],
    faults: Sequence[Fault],
    section: Path,
    *,
    known: bool,
) -> list[tuple[str, list[RemarkView]]]:
    """Return the id of each place for remarks that has to be shown anew, with what stands there.

    Where what is typed does not hold (`known` is false) there are no new remarks: only the places
    of the faults change and show these.
    """
    found: dict[str, list[RemarkView]] = {name: [] for name in names} if known else {}
    for fault in faults:
        name = name_of_fault(fault, section, names)
        if name is not None:
            found.setdefault(name, []).append(_fault_view(fault, name))
    for name in found:
        found[name] += remarks.get(name, []) if known else []
    return [(f"{id_of(name)}-remarks", views) for name, views in found.items()]


def _fault_view(fault: Fault, name: str) -> RemarkView:
    """Return a fault as a remark, with the text that its own message says to type."""
    advice = _ADVICE.search(fault.message) if leaf_kind(fault.place) == "number" else None
    text = advice.group(1) if advice else ""
    fix = urlencode({name: text}) if text else ""
    return RemarkView(fault.message, "", "", f"Use {text}" if text else "", fix)


def _place_of(study: Study, section: Path, name: str) -> str:
    place = ""
    for step in section:
        place += f"[{step}]" if isinstance(step, int) else f".{step}" if place else step
    return f"{place}.{name}" if place else name


def _view(remark: Remark, name: str, system: UnitSystem) -> RemarkView:
    texts = _texts(remark.fix_value, name, remark.place, system) if name else {}
    unit = form_unit(remark.place, system)
    shown = texts.get(name, "")
    if f"{name}:low" in texts:
        shown = f"{texts[f'{name}:low']} to {texts[f'{name}:high']}, assumed"
    words = f"{shown} {unit.text}".strip() if is_bare(shown) else shown
    return RemarkView(
        what=remark.what,
        why=remark.why,
        advice=remark.fix,
        button=f"Use {words}" if words else "",
        fix=urlencode(texts),
    )


def _texts(value: Any, name: str, place: str, system: UnitSystem) -> dict[str, str]:
    """Return what has to be typed into which boxes to follow a remark."""
    if value is None or leaf_kind(place) != "number":
        return {}
    unit = form_unit(place, system)
    if isinstance(value, dict):
        about = {key: _text(inner, key, unit) for key, inner in value.items()}
        return {name if key == "value" else f"{name}:{key}": text for key, text in about.items()}
    return {name: _text(value, "value", unit)}


def _text(value: Any, key: str, unit: FormUnit) -> str:
    if key in ("source", "note"):
        return str(value)
    if isinstance(value, str):
        return shown_text(float(value), unit) if is_bare(value) else value
    return shown_text(float(value), unit)
