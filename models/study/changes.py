"""What changed between two documents of one study, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from models.study.canonical import same
from models.study.sections import ORDER, candidate_key, split_sections
from models.study.wording import both_texts, is_map, item_word, label_of, step_word, subject_of
from models.units import UnitSystem

IDENTITIES = ("key", "name", "metric", "date", "weekday")
"""Names by which the items of a list are told apart, the first that all of them carry."""
LONGEST_TEXT = 60


class Change(NamedTuple):
    """One difference: in which section, at which place within it, and said in words."""

    section: str
    place: str
    words: str


class _Spot(NamedTuple):
    """Where the walk through two documents stands."""

    place: str
    """Place within the section, as forms name their fields: `drive.ratio`, `parts.0.mass_kg`."""
    path: str
    """Path in the schema, without indices: `candidates[].drive.ratio`."""
    trail: tuple[str, ...]
    """What has to be said before the label: candidate, part, leg …"""

    def inside(self, name: str, value: Any) -> _Spot:
        place = f"{self.place}.{name}" if self.place else name
        if is_map(self.path):
            own = value.get("name") if isinstance(value, dict) else None
            words = f"{item_word(self.path)} {own or name}"
            return _Spot(place, f"{self.path}.*", (*self.trail, words))
        path = f"{self.path}.{name}"
        words = step_word(path)
        return _Spot(place, path, (*self.trail, words) if words else self.trail)

    def item(self, index: int, *, words: str) -> _Spot:
        place = f"{self.place}.{index}" if self.place else str(index)
        return _Spot(place, f"{self.path}[]", (*self.trail, words))


def describe_changes(
    before: Mapping[str, Any], after: Mapping[str, Any], system: UnitSystem = UnitSystem.SI
) -> list[Change]:
    """Every difference between two documents, section by section, in the order of the newer one.

    Numbers typed without a unit are shown with theirs in the given system; what was typed with a
    unit is shown as typed. Items of a list are named, not counted, wherever they have a name.

    >>> old = {"candidates": [{"key": "a", "name": "Steered base", "drive": {"ratio": 6.75}}]}
    >>> new = {"candidates": [{"key": "a", "name": "Steered base", "drive": {"ratio": 5.9}}]}
    >>> describe_changes(old, new)[0].words
    'Steered base, ratio: 6.75 → 5.90'
    """
    old, new = split_sections(before), split_sections(after)
    changes: list[Change] = []
    for section in dict.fromkeys([*new, *old]):
        if section == ORDER or (section in old and section in new):
            continue
        changes.extend(_whole_section(section, old, new, system))
    for section in new:
        if section != ORDER and section in old:
            changes.extend(_inside_section(section, old[section], new[section], system))
    changes.extend(_order(old, new))
    ranks = {section: rank for rank, section in enumerate(dict.fromkeys([*new, *old]))}
    return sorted(changes, key=lambda change: ranks.get(change.section, len(ranks)))


def _whole_section(
    section: str, old: Mapping[str, Any], new: Mapping[str, Any], system: UnitSystem
) -> Iterator[Change]:
    value = new.get(section, old.get(section))
    verb = "added" if section in new else "removed"
    if candidate_key(section) is not None:
        yield Change(section, "", f"Candidate {verb}: {value.get('name') or value['key']}")
    elif subject_of(section, value):
        yield Change(section, "", f"{_capital(label_of(section))} {verb}")
    else:
        empty: Any = {} if isinstance(value, dict) else [] if isinstance(value, list) else None
        yield from _inside_section(
            section, old.get(section, empty), new.get(section, empty), system
        )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _inside_section(section: str, old: Any, new: Any, system: UnitSystem) -> Iterator[Change]:
    subject = subject_of(section, new)
    path = "candidates[]" if candidate_key(section) is not None else section
    spot = _Spot("", path, (subject,) if subject else ())
    for place, words in _walk(old, new, spot, system):
        yield Change(section, place, _capital(words))


def _order(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    before, after = old.get(ORDER, []), new.get(ORDER, [])
    if [key for key in before if key in after] != [key for key in after if key in before]:
        names = [new[f"candidates/{key}"].get("name") or key for key in after]
        yield Change(ORDER, "", f"Order of the candidates: {', '.join(names)}")


def _walk(old: Any, new: Any, spot: _Spot, system: UnitSystem) -> Iterator[tuple[str, str]]:
    if same(old, new):
        return
    if _is_group(old, new):
        for name in dict.fromkeys([*(new or {}), *(old or {})]):
            yield from _walk_name(old or {}, new or {}, name, spot, system)
    elif _is_list_of_objects(old, new):
        yield from _walk_items(old or [], new or [], spot, system)
    else:
        yield spot.place, _leaf(old, new, spot, system)


def _is_group(old: Any, new: Any) -> bool:
    given = [value for value in (old, new) if value is not None]
    return all(isinstance(value, dict) and "value" not in value for value in given)


def _is_list_of_objects(old: Any, new: Any) -> bool:
    given = [value for value in (old, new) if value is not None]
    return all(
        isinstance(value, list) and all(isinstance(item, dict) for item in value) for value in given
    )


def _walk_name(
    old: Mapping[str, Any], new: Mapping[str, Any], name: str, spot: _Spot, system: UnitSystem
) -> Iterator[tuple[str, str]]:
    value = new.get(name, old.get(name))
    inner = spot.inside(name, value)
    named = is_map(spot.path) and isinstance(value, dict)
    if named and name not in old:
        yield inner.place, f"{_said(inner.trail)} added"
    elif named and name not in new:
        yield inner.place, f"{_said(inner.trail)} removed"
    else:
        yield from _walk(old.get(name), new.get(name), inner, system)


def _walk_items(
    old: Sequence[Any], new: Sequence[Any], spot: _Spot, system: UnitSystem
) -> Iterator[tuple[str, str]]:
    word = item_word(spot.path)
    identity = next((name for name in IDENTITIES if _tells_apart(name, old, new)), None)
    pairs = _pairs(old, new, identity)
    for before, after in pairs:
        index = after if after is not None else before
        item = new[after] if after is not None else old[before or 0]
        inner = spot.item(index or 0, words=_item_name(word, item, index or 0, identity))
        if before is None:
            yield inner.place, f"{_said(inner.trail)} added"
        elif after is None:
            yield inner.place, f"{_said(inner.trail)} removed"
        else:
            yield from _walk(old[before], new[after], inner, system)
    kept = [before for before, after in pairs if before is not None and after is not None]
    if kept != sorted(kept):
        subject = f"{_said(spot.trail)}, " if spot.trail else ""
        yield spot.place, f"{subject}order of the {label_of(spot.path)} changed"


def _tells_apart(name: str, old: Sequence[Any], new: Sequence[Any]) -> bool:
    return all(
        all(isinstance(item.get(name), str) for item in items)
        and len({item[name] for item in items}) == len(items)
        for items in (old, new)
    )


def _pairs(
    old: Sequence[Any], new: Sequence[Any], identity: str | None
) -> list[tuple[int | None, int | None]]:
    """Which old item became which new one; None where there is no partner."""
    if identity is None:
        longest = max(len(old), len(new))
        return [(i if i < len(old) else None, i if i < len(new) else None) for i in range(longest)]
    places = {item[identity]: index for index, item in enumerate(old)}
    names = {item[identity] for item in new}
    left = [index for index, item in enumerate(old) if item[identity] not in names]
    pairs: list[tuple[int | None, int | None]] = []
    for index, item in enumerate(new):
        partner = places.get(item[identity])
        if partner is None and len(old) == len(new) and index in left:
            partner = index  # renamed in its place
        if partner in left:
            left.remove(partner)
        pairs.append((partner, index))
    return [*pairs, *((index, None) for index in left)]


def _item_name(word: str, item: Mapping[str, Any], index: int, identity: str | None) -> str:
    name = item.get("name") or (item[identity] if identity else None)
    return f"{word} {name if isinstance(name, str) and name else index + 1}".strip()


def _said(trail: Sequence[str]) -> str:
    return ", ".join(trail)


def _leaf(old: Any, new: Any, spot: _Spot, system: UnitSystem) -> str:
    label = label_of(spot.path)
    if spot.path.endswith(".*"):
        label = ""  # the user's own name for it was said on the way
    subject = ", ".join(part for part in (*spot.trail, label) if part)
    before, after = both_texts(old, new, spot.path, system)
    if before == after or max(len(before), len(after)) > LONGEST_TEXT:
        return f"{subject} changed"
    return f"{subject}: {before} → {after}"
