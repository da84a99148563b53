"""Reading a study: bytes to a document, a document to a `Study`, refusing with every fault named.

Contents: `read_document`, `parse_study`, `with_candidates`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from models.errors import Fault, StudyRefusedError
from models.study.checks import faults_between_fields
from models.study.fields import find_field, model_at
from models.study.kinds import brief
from models.study.schema import FORMAT, VERSION, Candidate, Study
from models.study.shared_base import (
    TAKEN_OVER,
    base_source,
    fill_bases,
    follow_bases,
    is_taken_over,
)
from models.units import quoted

MAX_BYTES = 2_000_000
DEEPEST = 40
MOST_FAULTS = 100
LONGEST_DIGITS = 400

_STRING_OR_BRACKET = re.compile(r'"(?:[^"\\]|\\.)*"?|[\[\]{}]', re.DOTALL)


def read_document(text: bytes | str) -> dict[str, Any]:
    """Return the JSON object that a study file holds, unread as yet.

    Parameters
    ----------
    text : the file's content; UTF-8, with or without a byte-order mark

    Raises `StudyRefusedError` where it is too large, too deep, not JSON, not an object, has a
    field twice or a number that is not finite.

    >>> read_document('{"format": "switchover-study"}')
    {'format': 'switchover-study'}
    """
    if len(text) > MAX_BYTES:
        raise _refused(
            f"The file has {len(text):,} bytes; a study has {MAX_BYTES:,} at most.",
            limit=f"{MAX_BYTES} bytes",
        )
    if isinstance(text, bytes):
        try:
            text = text.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise _refused(
                f"Byte {error.start + 1} is not UTF-8 text; save the file as UTF-8."
            ) from None
    text = text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}")
    if not text.strip():
        raise _refused("The file is empty; a study is a JSON object.")
    _check_depth(text)
    document = _decoded(text)
    if not isinstance(document, dict):
        raise _refused("The file has to hold one JSON object, in braces.")
    return document


def _check_depth(text: str) -> None:
    depth = 0
    for match in _STRING_OR_BRACKET.finditer(text):
        mark = match.group()
        if mark in "[{":
            depth += 1
            if depth > DEEPEST:
                raise _refused(
                    f"Brackets are nested more than {DEEPEST} deep; a study needs 12.",
                    limit=f"{DEEPEST} levels",
                )
        elif mark in "]}":
            depth -= 1


def _decoded(text: str) -> Any:
    try:
        return json.loads(
            text,
            object_pairs_hook=_without_doubles,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_short_enough,
        )
    except json.JSONDecodeError as error:
        raise _refused(
            f"Line {error.lineno}, column {error.colno}: this is not JSON "
            f"({error.msg[0].lower()}{error.msg[1:]})."
        ) from None


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    group: dict[str, Any] = {}
    for key, value in pairs:
        if key in group:
            raise _refused(f"The field {quoted(key)} stands twice in one group; keep one.")
        group[key] = value
    return group


def _no_constant(word: str) -> Any:
    raise _refused(f"{word} is not a number that a study can hold; type a figure.")


def _finite(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise _refused(f"{quoted(digits)} is too large for a number; check its exponent.")
    return value


def _short_enough(digits: str) -> int:
    if len(digits) > LONGEST_DIGITS:
        raise _refused(f"A number has {len(digits)} digits; check it.")
    return int(digits)


def _refused(message: str, *, limit: str | None = None) -> StudyRefusedError:
    return StudyRefusedError([Fault("", message, limit=limit)])


def parse_study(document: Mapping[str, Any]) -> Study:
    """Return the study that a document describes.

    Parameters
    ----------
    document : what `read_document` gives; numbers may be texts with units or estimates

    Raises `StudyRefusedError` with a fault for each broken rule: place, limit, value given, and
    what to do.
    """
    if not isinstance(document, Mapping):
        raise _refused("A study is a JSON object, in braces.")
    _check_format(document)
    whole = dict(document)
    followers: dict[int, str] = {}
    faults: list[Fault] = []
    if isinstance(whole.get("candidates"), list):
        whole["candidates"], followers, faults = fill_bases(whole["candidates"])
    try:
        study = Study.model_validate(whole)
    except ValidationError as error:
        found = [_fault(one) for one in error.errors(include_url=False)]
        found = [one for one in found if not is_taken_over(one.place, followers)]
        raise StudyRefusedError([*faults, *found][:MOST_FAULTS]) from None
    if followers:
        study = study.model_copy(update={"candidates": follow_bases(study.candidates)})
    found = faults_between_fields(study)
    faults += [one for one in found if not is_taken_over(one.place, followers)]
    if faults:
        raise StudyRefusedError(faults[:MOST_FAULTS])
    return study


def with_candidates(study: Study, changed: Mapping[str, Mapping[str, Any]]) -> Study:
    """Return a study with some of its candidates read anew, as `parse_study` of the whole would.

    Parameters
    ----------
    study : a study that holds
    changed : documents of candidates by the key of the one that each replaces

    Raises `StudyRefusedError` where the result would not hold; its places are those within the
    candidate, so that `parse_study` of the whole document tells more.
    """
    try:
        read = {key: _read_candidate(study, changed, one) for key, one in changed.items()}
    except ValidationError as error:
        raise StudyRefusedError([_fault(one) for one in error.errors(include_url=False)]) from None
    candidates = follow_bases(read.get(one.key, one) for one in study.candidates)
    edited = study.model_copy(update={"candidates": candidates})
    faults = faults_between_fields(edited)
    if faults:
        raise StudyRefusedError(faults[:MOST_FAULTS])
    return edited


def _read_candidate(
    study: Study, changed: Mapping[str, Mapping[str, Any]], one: Mapping[str, Any]
) -> Candidate:
    """Return one candidate of `with_candidates`, made whole where it keeps another's base."""
    name = base_source(one)
    if name is None:
        return Candidate.model_validate(dict(one))
    everyone = [changed.get(other.key, _named(other)) for other in study.candidates]
    filled = fill_bases(everyone)
    if filled.faults:
        raise StudyRefusedError(filled.faults)
    whole = filled.candidates[[other.key for other in study.candidates].index(one["key"])]
    if name not in changed:
        source = study.candidate(name)
        whole = {**whole, **{part: getattr(source, part) for part in TAKEN_OVER}}
    return Candidate.model_validate(whole)


def _named(candidate: Candidate) -> dict[str, Any]:
    """Return so much of a candidate's document as says whose base it keeps."""
    name = candidate.same_base_as
    return {"key": candidate.key, **({"same_base_as": name} if name else {})}


def _check_format(document: Mapping[str, Any]) -> None:
    given = document.get("format")
    if given != FORMAT:
        shown = quoted(given) if isinstance(given, str) else "missing" if given is None else "odd"
        message = f"The format is {shown}; a study file says “{FORMAT}”."
        raise StudyRefusedError([Fault("format", message, brief(given), FORMAT)])
    version = document.get("version")
    if isinstance(version, bool) or version != VERSION:
        shown = "missing" if version is None else str(version).lower()[:40]
        message = f"The version is {shown}; this program reads version {VERSION}."
        raise StudyRefusedError([Fault("version", message, brief(version), str(VERSION))])


def place_of(location: tuple[int | str, ...]) -> str:
    """Return a place as messages write it.

    >>> place_of(("candidates", 1, "drive", "ratio"))
    'candidates[1].drive.ratio'
    """
    place = ""
    for step in location:
        if isinstance(step, int):
            place += f"[{step}]"
        elif step != "[key]":
            place += f".{_short_key(step)}" if place else _short_key(step)
    return place


def _short_key(step: str) -> str:
    clean = step.encode("ascii", "backslashreplace").decode() if not step.isprintable() else step
    return clean if len(clean) <= 60 else clean[:59] + "…"


def _fault(error: ErrorDetails) -> Fault:
    """Return one error of the schema in the user's words."""
    place = place_of(error["loc"])
    context = error.get("ctx", {})
    if error["type"] == "study":
        member = context.get("member", "")
        if member:
            place += member if member.startswith("[") else f".{_short_key(member)}"
        return Fault(place, context["message"], context["given"], context["limit"] or None)
    return Fault(place, _words(error, place), brief(error.get("input")))


def _words(error: ErrorDetails, place: str) -> str:
    kind = error["type"]
    if kind == "missing":
        spec = find_field(place)
        return f"{spec.label if spec else 'This field'} is missing; state it."
    if kind == "extra_forbidden":
        return _unknown_field(error["loc"])
    if kind in ("tuple_type", "list_type"):
        return "A list in square brackets belongs here."
    if kind in ("dict_type", "model_type", "model_attributes_type"):
        return "A group of fields in braces belongs here."
    return "This cannot stand here; see the description of the study file."


def _unknown_field(location: tuple[int | str, ...]) -> str:
    name = str(location[-1])
    model = model_at(place_of(location[:-1]))
    names = [field.alias or name for name, field in model.model_fields.items()] if model else []
    near = get_close_matches(name, names, 1, cutoff=0.6)
    if near:
        return f"There is no field of this name; did you mean {near[0]}?"
    listed = ", ".join(names)
    return (
        f"There is no field of this name here; the fields are {listed}."
        if listed
        else ("There is no field of this name here.")
    )
