"""One table of all fields of a study: words, unit, limits, default. Forms, messages and histories
read it, so that a field is called the same everywhere.

It is made from the schema when first asked for. A path is a place without positions: `[]` stands
for an entry of a list, `*` for a key of a group: `candidates[].drive.ratio`, `motors.*.name`.

Contents: `FieldSpec`, `field_for`, `find_field`, `fields_under`, `model_at`.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from models.errors import NotFoundError
from models.study.kinds import (
    Choice,
    Clock,
    Day,
    Group,
    Key,
    Kind,
    Number,
    Ratio,
    Text,
    Truth,
    TruthOrWord,
    Whole,
)
from models.study.outlines import Outline
from models.study.schema import Study

FieldKind = Literal[
    "number", "whole", "text", "key", "choice", "truth", "word", "date", "time", "outline",
    "point", "list", "map", "group",
]  # fmt: skip

_KIND_WORDS: tuple[tuple[type[Kind], FieldKind], ...] = (
    (Whole, "whole"),
    (Number, "number"),
    (Key, "key"),
    (Text, "text"),
    (Choice, "choice"),
    (Truth, "truth"),
    (TruthOrWord, "word"),
    (Day, "date"),
    (Clock, "time"),
    (Outline, "outline"),
)


@dataclass(frozen=True)
class FieldSpec:
    """What a form, a message or a history has to know about one field."""

    path: str
    name: str
    label: str
    kind: FieldKind
    unit: str = ""
    minimum: float | None = None
    maximum: float | None = None
    above_minimum: bool = False
    hint: str = ""
    required: bool = True
    default: Any = None
    """What counts where nothing is stated; None also where the field is simply absent."""
    choices: tuple[str, ...] = ()
    is_ratio: bool = False
    longest: int | None = None
    items: tuple[str, ...] = ()
    """Words for the entries of a point: forward, left, up."""
    one: str = "entry"
    """The word for one entry of a list."""
    limit: str = ""
    """The allowed range in words, with its unit."""


def field_for(path: str) -> FieldSpec:
    """Return the field at a path or place; positions and keys may be real ones.

    Raises `NotFoundError` where a study has no such field.

    >>> field_for("candidates[1].drive.ratio").label
    'Ratio'
    >>> field_for("motors.bl60.stall_current_a").unit
    'a'
    """
    spec = find_field(path)
    if spec is None:
        raise NotFoundError(f"A study has no field “{path[:100]}”.")
    return spec


def find_field(path: str) -> FieldSpec | None:
    """Return the field at a path or place, or None where a study has no such field.

    >>> find_field("candidates[].drive.colour") is None
    True
    """
    entry = _find(path)
    return entry[0] if entry else None


def model_at(path: str) -> type[BaseModel] | None:
    """Return the model of the group at a path or place, the whole study for "".

    >>> model_at("candidates[0].drive").__name__
    'Drive'
    """
    if not path:
        return Study
    entry = _find(path)
    return entry[1] if entry else None


def fields_under(path: str) -> tuple[FieldSpec, ...]:
    """Return the fields of the group at a path, in the order of the file.

    >>> [spec.name for spec in fields_under("candidates[].frame")]
    ['length_m', 'width_m', 'belly_m']
    """
    model = model_at(path)
    if model is None:
        return ()
    stem = f"{_generic(path)}." if path else ""
    return tuple(field_for(f"{stem}{name}") for name in _file_names(model))


_Entry = tuple[FieldSpec, type[BaseModel] | None]


def _generic(path: str) -> str:
    """Return a place as a path: positions, also those of form names, become []."""
    return re.sub(r"\[[0-9]*\]|\.[0-9]+(?=\.|\[|$)", "[]", path)


@cache
def _table() -> dict[str, _Entry]:
    return dict(_walk(Study, ""))


def _find(path: str) -> _Entry | None:
    table = _table()
    generic = _generic(path)
    if generic in table:
        return table[generic]
    known = ""
    for step in re.findall(r"\[\]|\.?[^.\[\]]+", generic):
        if known + step in table:
            known += step
        elif step != "[]" and known + ".*" in table:
            known += ".*"
        else:
            return None
    return table.get(known)


def _file_names(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _walk(model: type[BaseModel], stem: str) -> list[tuple[str, _Entry]]:
    rows: list[tuple[str, _Entry]] = []
    for attribute, field in model.model_fields.items():
        name = field.alias or attribute
        path = f"{stem}.{name}" if stem else name
        rows += _rows(path, name, field.annotation, tuple(field.metadata), field)
    return rows


def _rows(
    path: str, name: str, annotation: Any, metadata: tuple[Any, ...], field: FieldInfo | None
) -> list[tuple[str, _Entry]]:
    annotation, metadata = _unwrapped(annotation, metadata)
    model = (
        annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None
    )
    rows = [(path, (_spec(path, name, annotation, metadata, field), model))]
    if model is not None:
        return rows + _walk(model, path)
    if any(isinstance(one, Outline) for one in metadata):
        return rows
    arguments = get_args(annotation)
    if get_origin(annotation) is tuple:
        words = _words_of(metadata, "items") or ()
        entry = _rows(f"{path}[]", name, arguments[0], (), None)
        label = f"{_words_of(metadata, 'label') or name}: {' / '.join(words)}" if words else ""
        return rows + ([_relabelled(entry[0], label), *entry[1:]] if label else entry)
    if get_origin(annotation) is dict:
        return rows + _rows(f"{path}.*", name, arguments[1], (), None)
    return rows


def _relabelled(row: tuple[str, _Entry], label: str) -> tuple[str, _Entry]:
    path, (spec, model) = row
    values = {**spec.__dict__, "label": label}
    return path, (FieldSpec(**values), model)


def _unwrapped(annotation: Any, metadata: tuple[Any, ...]) -> tuple[Any, tuple[Any, ...]]:
    """Return the annotation without `Annotated` and `| None`, and all metadata."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            metadata = (*more, *metadata)
        elif get_origin(annotation) in (Union, UnionType):
            options = [one for one in get_args(annotation) if one is not NoneType]
            if len(options) != 1:
                return annotation, metadata
            annotation = options[0]
        else:
            return annotation, metadata


def _words_of(metadata: tuple[Any, ...], name: str) -> Any:
    """Return the last stated word of a name among labels, groups and kinds."""
    stated = [getattr(one, name) for one in metadata if getattr(one, name, None)]
    return stated[-1] if stated else None


def _spec(
    path: str, name: str, annotation: Any, metadata: tuple[Any, ...], field: FieldInfo | None
) -> FieldSpec:
    kind = next((one for one in metadata if isinstance(one, Kind)), None)
    number = kind if isinstance(kind, Number) else None
    required = field.is_required() if field else True
    default = field.default if field and field.default is not PydanticUndefined else None
    return FieldSpec(
        path=path,
        name=name,
        label=_words_of(metadata, "label") or _from_name(name),
        kind=_kind_word(kind, annotation, metadata),
        unit=number.unit if number else "",
        minimum=number.minimum if number else None,
        maximum=number.maximum if number else None,
        above_minimum=number.above_minimum if number else False,
        hint=_words_of(metadata, "hint") or "",
        required=required,
        default=default if isinstance(default, bool | int | float | str | dt.date) else None,
        choices=kind.choices if isinstance(kind, Choice) else (),
        is_ratio=isinstance(kind, Ratio),
        longest=kind.longest if isinstance(kind, Text) else None,
        items=_words_of(metadata, "items") or (),
        one=next((one.one for one in metadata if isinstance(one, Group)), "entry"),
        limit=number.limit if number else "",
    )


def _kind_word(kind: Kind | None, annotation: Any, metadata: tuple[Any, ...]) -> FieldKind:
    for known, word in _KIND_WORDS:
        if isinstance(kind, known):
            return word
    if any(isinstance(one, Group) and one.items for one in metadata):
        return "point"
    origin = get_origin(annotation)
    return "list" if origin is tuple else "map" if origin is dict else "group"


def _from_name(name: str) -> str:
    words = re.sub(r"_(m|kg|s|v|a|ohm|ah|deg|mps|rpm|nm|kgm2|kgm3)$", "", name).replace("_", " ")
    return words[:1].upper() + words[1:]
