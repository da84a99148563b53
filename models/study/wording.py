"""The words for sections, fields and values in which changes of a study are told.

Labels and units are those of `models.study.fields`, the table that forms read as well.
"""

from __future__ import annotations

from typing import Any

from models.study.fields import find_field
from models.study.sections import candidate_key
from models.units import NOT_GIVEN, UnitSystem, show

SAID_GROUPS = (
    "start", "tube", "plate", "front_left", "front_right", "rear_left", "rear_right", "opponent",
    "day", "uses", "express",
)  # fmt: skip
"""Groups whose fields are not told apart by their own labels."""
MOST_DIGITS = 9


def subject_of(section: str, value: Any) -> str:
    """What a change in a section is said of, "" where the field's own words are enough.

    >>> subject_of("candidates/swerve", {"name": "Steered base"}), subject_of("power", {})
    ('Steered base', 'power')
    """
    key = candidate_key(section)
    if key is not None:
        return str(value.get("name") or key)
    spec = find_field(section)
    return label_of(section) if spec is not None and spec.kind == "group" else ""


def item_word(path: str) -> str:
    """The word for one entry of a list or map of the study.

    >>> item_word("routes[].legs"), item_word("robot.parts")
    ('leg', 'robot part')
    """
    spec = find_field(path)
    word = spec.one if spec is not None else "entry"
    return f"robot {word}" if path == "robot.parts" else word


def is_map(path: str) -> bool:
    """Whether a group's names are the user's own, such as the keys of motors.

    >>> is_map("motors"), is_map("power")
    (True, False)
    """
    spec = find_field(path)
    return spec is not None and spec.kind == "map"


def step_word(path: str) -> str:
    """What has to be said on the way into a group, "" where its fields' labels are enough.

    >>> step_word("candidates[].modules.corners.rear_left"), step_word("candidates[].drive")
    ('rear left', '')
    """
    return label_of(path) if path.rpartition(".")[2] in SAID_GROUPS else ""


def label_of(path: str) -> str:
    """The words for a field, in the form in which they stand inside a sentence.

    >>> label_of("candidates[].drive.stator_limit_a"), label_of("robot.keepouts")
    ('stator current limit', 'keep-outs')
    """
    spec = find_field(path)
    label = spec.label if spec is not None else path.rpartition(".")[2].replace("_", " ")
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]


def unit_of(path: str) -> str:
    """The unit key of a field or of a point's entries, "" for what has none.

    >>> unit_of("candidates[].drive.stator_limit_a"), unit_of("robot.parts[].centre_m")
    ('a', 'm')
    """
    spec = find_field(path)
    if spec is not None and spec.kind == "point":
        spec = find_field(f"{path}[]")
    return spec.unit if spec is not None else ""


def both_texts(old: Any, new: Any, path: str, system: UnitSystem) -> tuple[str, str]:
    """Two values of one field as texts, with as many digits as it takes to tell them apart.

    >>> both_texts(6.75, 5.9, "candidates[].drive.ratio", UnitSystem.SI)
    ('6.75', '5.90')
    >>> both_texts(6.7461, 6.7462, "candidates[].drive.ratio", UnitSystem.SI)
    ('6.7461', '6.7462')
    """
    unit = unit_of(path)
    for digits in range(3, MOST_DIGITS + 1):
        before, after = (_text(value, unit, system, digits) for value in (old, new))
        if before != after:
            break
    return before, after


def _text(value: Any, unit: str, system: UnitSystem, digits: int) -> str:
    if value is None or value == "":
        return NOT_GIVEN
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return show(float(value), unit, system, digits=digits)
    if isinstance(value, dict) and "value" in value:
        return _estimate_text(value, unit, system, digits)
    if isinstance(value, list):
        texts = [_text(item, unit, system, digits) for item in value]
        return ("; " if any(", " in text for text in texts) else ", ").join(texts) or "none"
    return str(value)


def _estimate_text(value: dict[str, Any], unit: str, system: UnitSystem, digits: int) -> str:
    text = _text(value["value"], unit, system, digits)
    more = []
    if value.get("low") is not None or value.get("high") is not None:
        low, high = (_text(value.get(name), unit, system, digits) for name in ("low", "high"))
        more.append(f"{low} to {high}")
    more.extend(str(value[name]) for name in ("source", "note") if value.get(name))
    return f"{text} ({', '.join(more)})" if more else text
