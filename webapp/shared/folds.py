"""Parts of a form that are folded away, each with a line that says what is in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from models.units import show
from webapp.shared.formunits import form_unit, shown_text
from webapp.shared.inputs import InputView, Sheet
from webapp.shared.remarks import RemarkView

USES = ("channels", "controllers", "encoders", "bus_nodes")
"""Inputs of what takes connections: the robot's rest, and each candidate."""


@dataclass(frozen=True)
class Fold:
    """One folded part: its heading, what is in it, whether it is open, its single boxes."""

    key: str
    words: str
    inside: str
    open: bool
    rows: list[tuple[InputView, list[RemarkView]]]

    @property
    def id(self) -> str:
        """The id of the fold."""
        return f"fold-{self.key}"


def stated_in_words(sheet: Sheet, names: Sequence[str]) -> str:
    """Return what is stated of some inputs, in one line; "" where nothing is."""
    said = []
    for name in names:
        text = shown_number(sheet, name)
        if text:
            label = sheet.box(name).label
            said.append(f"{label[:1].lower()}{label[1:]} {text}")
    return ", ".join(said)


def shown_number(sheet: Sheet, name: str) -> str:
    """Return a typed or stored number with its unit, "" where there is none."""
    unit = form_unit(sheet.schema_place(name), sheet.system)
    value = sheet.value(name)
    bare = value.get("value") if isinstance(value, dict) else value
    if isinstance(bare, int | float) and not isinstance(bare, bool):
        small = unit.small if unit.key else None
        return show(float(bare), unit.key, sheet.system, digits=3, small=small)
    return shown_text(bare, unit)


def ratios_in_words(sheet: Sheet, name: str) -> str:
    """Return the ratios of a list in one line, tooth counts as what they come to.

    Text that is no ratio is shown as it was typed.
    """
    words = []
    for row in sheet.rows(name):
        box = sheet.box(f"{name}.{row}")
        meant = box.meaning.rpartition("= ")[2].removesuffix(" : 1")
        words.append(meant or box.text)
    return ", ".join(word for word in words if word) or "none"


def without_empty_uses(values: dict[str, object]) -> dict[str, object]:
    """Return a section without its connections where none is typed.

    >>> without_empty_uses({"uses": {}, "name": "a"})
    {'name': 'a'}
    """
    uses = values.get("uses")
    if isinstance(uses, dict) and not any(value is not None for value in uses.values()):
        return {name: value for name, value in values.items() if name != "uses"}
    return values
