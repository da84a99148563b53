"""The codec between a page's form and the sections of a study document.

A form field is named by its place inside the section, with dots: `drive.ratio`,
`parts.0.centre_m.2`. A colon adds something about a place that is not a value of its own:
`drive.grip:low` (an estimate's range), `parts.0:was` (the row of the stored list that this row
began as), `parts:rows` (this list stands on the page, even when it has no row), `motors:keys`
(this group stands on the page with all its keys).

What was typed is kept as typed: `12 mm` is stored as text, a bare number in the unit beside its
box. A box left as it was shown keeps the stored value untouched, to the last digit, and what the
form does not mention is not changed. Judging the result is left to the study's own checks, so
that a form and a file are refused by one set of rules.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import unquote

from models.errors import Fault
from models.units import UnitSystem
from webapp.shared.formunits import (
    FormUnit,
    field_words,
    form_unit,
    leaf_kind,
    shape_of,
    shown_text,
    stored_number,
)

Path = tuple[str | int, ...]

MISSING: Final = object()
"""Stands for 'not given': the key is left out of the document."""

DEEPEST = 12
"""Places in a study are at most eight deep; a name with more dots is not one of ours."""

CONTROL_NAMES = frozenset(
    {
        "base_revision", "section", "once", "csrf_token", "form_units", "revision_note",
        "seq", "row", "fix", "settle", "your_name", "shown_pose", "motor_class",
        "curves", "shown_route",
    }
)  # fmt: skip
"""Fields that steer the form itself and are no part of the document."""

UNTOUCHED: dict[str | int, str] = {"quantity": "1", "during": "always", "kind": "work"}
"""What some boxes of a new row hold before anything is typed."""

ESTIMATE_PARTS = ("low", "high", "source", "note")
"""What an estimate says besides its value, typed behind the number's own disclosure."""

_INDEX = re.compile(r"\d{1,5}")
_RECTANGLE = ("back", "right", "front", "left")


@dataclass
class Typed:
    """What was typed at one place and below it."""

    texts: dict[str, list[str]] = field(default_factory=dict)
    children: dict[str | int, Typed] = field(default_factory=dict)

    def text(self, about: str = "") -> str | None:
        """Return the last text posted here, or None where the form has no such field."""
        posted = self.texts.get(about)
        return posted[-1].replace("\r\n", "\n").strip() if posted else None

    def at(self, path: Sequence[str | int]) -> Typed | None:
        """Return the node at a path below this one, or None."""
        node: Typed | None = self
        for step in path:
            node = node.children.get(step) if node is not None else None
        return node

    @property
    def is_list(self) -> bool:
        """True where the children are rows of a list."""
        return "rows" in self.texts or any(isinstance(step, int) for step in self.children)


def join_name(path: Sequence[str | int]) -> str:
    """Return the form name of a place; dots and colons inside a key are percent-encoded.

    >>> join_name(("parts", 0, "centre_m", 2))
    'parts.0.centre_m.2'
    >>> join_name(("offsets", "arm no. 2"))
    'offsets.arm no%2E 2'
    """
    return ".".join(str(step) if isinstance(step, int) else _quoted(step) for step in path)


def _quoted(key: str) -> str:
    safe = key.replace("%", "%25").replace(".", "%2E").replace(":", "%3A")
    return f"%{ord(safe[0]):02X}{safe[1:]}" if _INDEX.fullmatch(safe) else safe


def split_name(name: str) -> tuple[Path, str]:
    """Return the place that a form name means and what it says about it.

    >>> split_name("parts.0.mass_kg:low")
    (('parts', 0, 'mass_kg'), 'low')
    """
    place, _, about = name.partition(":")
    if not place:
        return (), about
    steps = (int(step) if _INDEX.fullmatch(step) else unquote(step) for step in place.split("."))
    return tuple(steps), about


def id_of(name: str) -> str:
    """Return the id that the page's field of that name carries.

    >>> id_of("drive.grip:low")
    'f-drive-grip--low'
    """
    return "f-" + re.sub(
        r"[^A-Za-z0-9_-]",
        lambda found: {".": "-", ":": "--"}.get(found.group(), f"_{ord(found.group()):x}"),
        name,
    )


def read_typed(items: Iterable[tuple[str, Any]]) -> Typed:
    """Return what a form holds as a tree of places; names that steer the form are left out."""
    root = Typed()
    for name, text in items:
        if name in CONTROL_NAMES or not isinstance(text, str):
            continue
        path, about = split_name(name)
        if len(path) > DEEPEST:
            continue
        node = root
        for step in path:
            node = node.children.setdefault(step, Typed())
        node.texts.setdefault(about, []).append(text)
    return root


def rebuild(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    """Return the section's new value: the present one with everything typed put in its place.

    `place` is the section's place in the study schema (`candidates[]`), `system` the unit system
    in which the form was shown. An emptied field comes back as MISSING and its key is dropped. What
    was not typed is the present value itself, not a copy.
    """
    shape = shape_of(place)
    if any(about in typed.texts for about in _RECTANGLE):
        return _rebuilt_rectangle(typed, present, place, system)
    if "corners" in typed.texts:
        return _rebuilt_corners(typed, present, place, system)
    if shape == "list" or (shape == "unknown" and typed.is_list):
        return _rebuilt_list(typed, present, place, system)
    if shape == "object" or (shape == "unknown" and (typed.children or "keep" in typed.texts)):
        return _rebuilt_object(typed, present, place, system)
    return _rebuilt_leaf(typed, present, place, system)


def _rebuilt_object(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    base = present if isinstance(present, dict) else {}
    built = dict(base)
    if "keys" in typed.texts:
        built = {key: value for key, value in built.items() if key in typed.children}
    for step, child in typed.children.items():
        if isinstance(step, int):
            continue
        value = rebuild(child, base.get(step), f"{place}.{step}" if place else step, system)
        if value is MISSING:
            built.pop(step, None)
        else:
            built[step] = value
    if not built and not isinstance(present, dict) and "keep" not in typed.texts:
        return MISSING
    return built


def _rebuilt_list(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    base = present if isinstance(present, list) else []
    rows_are_objects = shape_of(f"{place}[]") == "object"
    built: list[Any] = []
    for index in _row_numbers(typed):
        child = typed.children[index]
        was = child.text("was") if "was" in child.texts else str(index)
        before = base[int(was)] if was and _INDEX.fullmatch(was) and int(was) < len(base) else None
        value = rebuild(child, before, f"{place}[]", system)
        built.append(({} if rows_are_objects else "") if value is MISSING else value)
    if "rows" not in typed.texts and all(value == "" for value in built):
        return MISSING
    if not built and not isinstance(present, list):
        return MISSING
    return built


def _rebuilt_leaf(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    kind = leaf_kind(place)
    if kind == "indexes":
        return _rebuilt_indexes(typed, present)
    text = typed.text()
    if text is None:
        return MISSING if present is None else present
    if kind == "truth":
        return _rebuilt_truth(text, present, place)
    if kind == "choice" and present is None and text == field_words(place).default:
        return MISSING
    return (
        _rebuilt_number(typed, text, present, place, system)
        if kind == "number"
        else (text or MISSING)
    )


def _rebuilt_truth(text: str, present: Any, place: str) -> Any:
    said = text == "yes"
    unsaid = present is None and said == bool(field_words(place).default)
    return MISSING if unsaid or not text else said


def _rebuilt_number(typed: Typed, text: str, present: Any, place: str, system: UnitSystem) -> Any:
    unit, words = form_unit(place, system), field_words(place)
    counted = words.kind == "whole" and words.default is not None
    if counted and present is None and text == shown_text(words.default, unit):
        return MISSING
    return _rebuilt_estimate(typed, text, present, unit)


def _rebuilt_indexes(typed: Typed, present: Any) -> Any:
    chosen = sorted({int(text) for text in typed.texts.get("", []) if _INDEX.fullmatch(text)})
    if not chosen and not present:
        return MISSING
    return chosen


def _rebuilt_estimate(typed: Typed, text: str, present: Any, unit: FormUnit) -> Any:
    before = present if isinstance(present, dict) else {"value": present}
    value = _number_or_missing(text, before.get("value"), unit)
    if any(part in typed.texts for part in ESTIMATE_PARTS):
        about = {
            "low": _number_or_missing(typed.text("low") or "", before.get("low"), unit),
            "high": _number_or_missing(typed.text("high") or "", before.get("high"), unit),
            "source": typed.text("source") or MISSING,
            "note": typed.text("note") or MISSING,
        }
    else:
        about = {key: kept for key, kept in before.items() if key != "value"}
    about = {key: said for key, said in about.items() if said is not MISSING}
    if not about:
        return value
    return about if value is MISSING else {"value": value, **about}


def _number_or_missing(text: str, before: Any, unit: FormUnit) -> Any:
    return stored_number(text, before, unit) if text else MISSING


def _rebuilt_rectangle(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    unit = form_unit(place, system)
    before = rectangle_of(present)
    sides = {}
    for side in _RECTANGLE:
        text = typed.text(side) or ""
        value = stored_number(text, before[side] if before else None, unit) if text else ""
        sides[side] = value
    if all(value == "" for value in sides.values()):
        return MISSING
    if before is not None and all(sides[side] == before[side] for side in _RECTANGLE):
        return copy.deepcopy(present)
    return [
        [sides["back"], sides["right"]],
        [sides["front"], sides["right"]],
        [sides["front"], sides["left"]],
        [sides["back"], sides["left"]],
    ]


def _rebuilt_corners(typed: Typed, present: Any, place: str, system: UnitSystem) -> Any:
    unit = form_unit(place, system)
    text = typed.text("corners") or ""
    if text == corners_text(present, unit):
        return copy.deepcopy(present)
    points = [part for part in re.split(r"[;\n]+", text) if part.strip()]
    return [[stored_number(word, None, unit) for word in _coordinates(point)] for point in points]


def _coordinates(point: str) -> list[str]:
    if "," in point:
        return [word.strip() for word in point.split(",")]
    return point.split()


def rectangle_of(outline: Any) -> dict[str, Any] | None:
    """Return the four sides of an outline that is a rectangle along the axes, else None.

    >>> rectangle_of([[0.1, 0.2], [-0.1, 0.2], [-0.1, -0.2], [0.1, -0.2]])
    {'back': -0.1, 'front': 0.1, 'right': -0.2, 'left': 0.2}
    """
    if not isinstance(outline, list) or len(outline) != 4:
        return None
    if not all(isinstance(point, list) and len(point) == 2 for point in outline):
        return None
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = outline
    if (ax, bx, ay, cy) == (dx, cx, by, dy):
        back, front, right, left = ax, bx, ay, cy
    elif (ax, cx, ay, by) == (bx, dx, dy, cy):
        back, front, right, left = ax, cx, ay, by
    else:
        return None
    if _are_numbers(back, front) and back > front:
        back, front = front, back
    if _are_numbers(right, left) and right > left:
        right, left = left, right
    return {"back": back, "front": front, "right": right, "left": left}


def _are_numbers(*values: Any) -> bool:
    return all(isinstance(value, int | float) and not isinstance(value, bool) for value in values)


def corners_text(outline: Any, unit: FormUnit) -> str:
    """Return an outline as one line of text, a corner `x, y` and a semicolon between corners."""
    if not isinstance(outline, list):
        return ""
    return "; ".join(
        ", ".join(shown_text(value, unit) for value in point)
        if isinstance(point, list)
        else str(point)
        for point in outline
    )


def without_row(typed: Typed, path: Sequence[str | int]) -> bool:
    """Take one row out of what was typed; False where there is no such row."""
    parent = typed.at(path[:-1]) if path else None
    return parent is not None and parent.children.pop(path[-1], None) is not None


def with_row(section: Any, path: Sequence[str | int], row: Any) -> list[Any]:
    """Append a row to the list at a path of a section, made where there is none; return the list.

    >>> with_row({"routes": [{}]}, ("routes", 0, "legs"), {})
    [{}]
    >>> with_row({"platform": None}, ("platform", "partners"), {})
    [{}]
    """
    parent = section
    for step in path[:-1]:
        parent = parent[step] if isinstance(step, int) else _made(parent, step, {})
    rows: list[Any] = _made(parent, path[-1], [])
    rows.append(row)
    return rows


def _made(parent: Any, step: str | int, empty: Any) -> Any:
    """Return what stands at a step, put there where there is nothing."""
    if parent.get(step) is None:
        parent[step] = empty
    return parent[step]


def drop_blank_rows(typed: Typed) -> None:
    """Take those list rows out of what was typed in which nothing stands.

    >>> typed = read_typed([("parts:rows", "1"), ("parts.0.name", "arm"), ("parts.1.name", " ")])
    >>> drop_blank_rows(typed)
    >>> rebuild(typed, {}, "candidates[]", UnitSystem.SI)
    {'parts': [{'name': 'arm'}]}
    """
    for step, child in list(typed.children.items()):
        drop_blank_rows(child)
        if "rows" in typed.texts and _is_blank(child):
            del typed.children[step]


def _is_blank(typed: Typed, step: str | int = "") -> bool:
    unsaid = ("", "yes", "no", UNTOUCHED.get(step, ""))
    said = (
        text.strip() not in unsaid
        for about, posted in typed.texts.items()
        if about not in ("was", "keep", "rows", "keys")
        for text in posted
    )
    return not any(said) and all(_is_blank(child, key) for key, child in typed.children.items())


def without_blank_rows(value: Any) -> Any:
    """Return a section without list rows that hold nothing yet.

    >>> without_blank_rows({"parts": [{"name": "arm"}, {}, {"tube": {}}]})
    {'parts': [{'name': 'arm'}]}
    """
    if isinstance(value, dict):
        return {key: without_blank_rows(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [without_blank_rows(inner) for inner in value if not _holds_nothing(inner)]
    return value


def _holds_nothing(value: Any) -> bool:
    if not isinstance(value, dict):
        return False
    return all(
        inner == [] or (isinstance(inner, dict) and _holds_nothing(inner))
        for inner in value.values()
    )


def row_origins(typed: Typed, before: str = "") -> dict[str, str]:
    """Return for each row of each list, by its name, the number of the stored row it began as."""
    origins: dict[str, str] = {}
    steps = sorted(typed.children, key=str) if not typed.is_list else _row_numbers(typed)
    for position, step in enumerate(steps):
        child = typed.children[step]
        name = join_name((position if typed.is_list else step,))
        whole = f"{before}.{name}" if before else name
        if "was" in child.texts:
            origins[whole] = child.text("was") or ""
        origins |= row_origins(child, whole)
    return origins


def _row_numbers(typed: Typed) -> list[str | int]:
    return sorted(step for step in typed.children if isinstance(step, int))


def path_of_place(place: str) -> Path:
    """Return a place as the study's checks write it as a path.

    >>> path_of_place("candidates[1].drive.ratio")
    ('candidates', 1, 'drive', 'ratio')
    >>> path_of_place("robot.parts[0].centre_m[2]")
    ('robot', 'parts', 0, 'centre_m', 2)
    """
    steps: list[str | int] = []
    for key, index, quoted in re.findall(r"([^.\[\]]+)|\[(\d+)\]|\[\"([^\"]*)\"\]", place):
        if index:
            steps.append(int(index))
        else:
            steps.append(quoted or key)
    return tuple(steps)


def name_of_fault(fault: Fault, section: Path, names: Collection[str]) -> str | None:
    """Return the form field to which a fault belongs, or None where the form has none near it.

    The field of the place itself is taken; else the first field below it; else those of the
    place around it. A fault elsewhere in the study belongs to no field of this form.
    """
    path = path_of_place(fault.place)
    if path[: len(section)] != section:
        return None
    inner = path[len(section) :]
    if inner and inner[-1] in ESTIMATE_PARTS:
        part = f"{join_name(inner[:-1])}:{inner[-1]}"
        if part in names:
            return part
    for length in range(len(inner), 0, -1):
        name = join_name(inner[:length])
        if name in names:
            return name
        below = (other for other in names if other.startswith((f"{name}.", f"{name}:")))
        found = next(
            (other for other in below if not other.endswith((":was", ":rows", ":keys", ":keep"))),
            None,
        )
        if found is not None:
            return found
    return None
