"""Candidates that keep another's base: the same drive, another use of the hours.

Such a candidate names the other in `same_base_as` and leaves out what it takes over. Reading fills
it from the other's document, so that all that is computed sees a whole candidate; the document
itself keeps what was typed.

Contents: `TAKEN_OVER`, `Filled`, `fill_bases`, `base_source`, `follow_bases`, `is_taken_over`,
`with_own_base`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from models.errors import Fault
from models.study.kinds import brief
from models.study.plan_checks import unknown
from models.study.schema import Candidate
from models.units import quoted

SAME_BASE = "same_base_as"
TAKEN_OVER = ("layout", "drive", "wheels", "frame", "parts", "bodies", "modules", "uses")
"""What a candidate that keeps another's base has from that one."""


class Filled(NamedTuple):
    """Documents of candidates made whole, and what is wrong with the names of their bases."""

    candidates: list[Any]
    followers: dict[int, str]
    """Key of the base by the position of each candidate that keeps another's."""
    faults: list[Fault]


def fill_bases(candidates: Sequence[Any]) -> Filled:
    """Return the candidates' documents with what they take over from each other filled in.

    Where the name of a base is at fault, another candidate's base stands in, so that reading can
    go on and name the other faults too.

    >>> fill_bases([{"key": "a", "layout": "tank"}, {"key": "b", "same_base_as": "a"}]).candidates
    [{'key': 'a', 'layout': 'tank'}, {'key': 'b', 'same_base_as': 'a', 'layout': 'tank'}]
    """
    followers = {
        index: base_source(one) or ""
        for index, one in enumerate(candidates)
        if isinstance(one, Mapping) and one.get(SAME_BASE) is not None
    }
    if not followers:
        return Filled(list(candidates), {}, [])
    faults: list[Fault] = []
    sources: dict[str, Mapping[str, Any]] = {
        str(one["key"]): one
        for index, one in enumerate(candidates)
        if isinstance(one, Mapping) and index not in followers and isinstance(one.get("key"), str)
    }
    filled = list(candidates)
    for index, name in followers.items():
        place = f"candidates[{index}]"
        if name:
            faults += _faults(candidates[index], name, sources, candidates, place)
        stand_in = sources.get(name) or next(iter(sources.values()), {})
        filled[index] = _whole(candidates[index], stand_in)
    return Filled(filled, followers, faults)


def base_source(candidate: Any) -> str | None:
    """Return the key of the candidate whose base one keeps, None where it has its own.

    >>> base_source({"key": "b", "same_base_as": "a"}), base_source({"key": "a"})
    ('a', None)
    """
    if not isinstance(candidate, Mapping):
        return None
    name = candidate.get(SAME_BASE)
    return name if isinstance(name, str) and name else None


def with_own_base(candidates: Sequence[Mapping[str, Any]], key: str) -> dict[str, Any] | None:
    """Return the document of a candidate with a base of its own, None where there is none.

    What it keeps of another's base is written into it, for a variant that changes that base.

    >>> with_own_base([{"key": "a", "layout": "tank"}, {"key": "b", "same_base_as": "a"}], "b")
    {'key': 'b', 'layout': 'tank'}
    """
    for candidate in fill_bases(candidates).candidates:
        if candidate.get("key") == key:
            return {name: value for name, value in candidate.items() if name != SAME_BASE}
    return None


def follow_bases(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Return candidates of which those that keep another's base have that one's as it is now."""
    everyone = tuple(candidates)
    by_key = {one.key: one for one in everyone}
    return tuple(_following(one, by_key.get(one.same_base_as or "")) for one in everyone)


def _following(one: Candidate, source: Candidate | None) -> Candidate:
    if source is None or all(getattr(one, name) is getattr(source, name) for name in TAKEN_OVER):
        return one
    return one.model_copy(update={name: getattr(source, name) for name in TAKEN_OVER})


def is_taken_over(place: str, followers: Iterable[int]) -> bool:
    """Return whether a place lies in what a candidate has from another, where it is told already.

    >>> is_taken_over("candidates[2].drive.ratio", [2]), is_taken_over("candidates[2].name", [2])
    (True, False)
    """
    for index in followers:
        stem = f"candidates[{index}]."
        if place.startswith(stem):
            step = place.removeprefix(stem).split(".")[0].split("[")[0]
            return step in TAKEN_OVER
    return False


def _whole(candidate: Mapping[str, Any], source: Mapping[str, Any]) -> dict[str, Any]:
    own = {name: value for name, value in candidate.items() if name not in TAKEN_OVER}
    return {**own, **{name: source[name] for name in TAKEN_OVER if name in source}}


def _faults(
    candidate: Mapping[str, Any],
    name: str,
    sources: Mapping[str, Any],
    everyone: Sequence[Any],
    place: str,
) -> Iterator[Fault]:
    at = f"{place}.{SAME_BASE}"
    chained = next(
        (one for one in everyone if isinstance(one, Mapping) and one.get("key") == name), None
    )
    if name not in sources and chained is candidate:
        yield Fault(
            at,
            f"The candidate {quoted(name)} names itself; name another, or give it its own base.",
            given=name,
        )
    elif name not in sources and chained is not None:
        yield Fault(
            at,
            f"{quoted(name)} itself keeps the base of {quoted(str(base_source(chained)))}; name "
            "that one.",
            given=name,
            limit=base_source(chained),
        )
    elif name not in sources:
        yield unknown(at, brief(name), sources, "candidate with the key")
    for section in TAKEN_OVER:
        if candidate.get(section) not in (None, [], ()):
            yield Fault(
                f"{place}.{section}",
                f"This candidate keeps the base of {quoted(name)} and cannot have its own "
                f"{section}; take one of the two out.",
                limit=f"{SAME_BASE} or {section}",
            )
    if candidate.get("baseline") is True:
        yield Fault(
            at,
            "The baseline stands on a base of its own; mark the other candidate as the baseline.",
            given=name,
        )
