"""Rows of the schedule's tables: moved up and down, and told by their place in the form.

In the form a task waits for rows of the table of tasks and needs rows of the table of purchases,
by number; so a row that is renamed or moved keeps what hangs on it, and one that is taken out
loses it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from webapp.forms import Typed, split_name
from webapp.shared.editing import Posted

LONGEST_KEY = 40


def row_numbers(typed: Typed | None) -> list[int]:
    """Return the numbers of the rows typed in a table, in their order."""
    steps = typed.children if typed is not None else {}
    return sorted(step for step in steps if isinstance(step, int))


def new_places(typed: Typed | None) -> dict[int, int]:
    """Return where each row of a table, by its number in the form, will stand."""
    return {row: place for place, row in enumerate(row_numbers(typed))}


def moved_row(posted: Posted) -> tuple[str, int, int] | None:
    """Swap a row with its neighbour where its button was pressed; return list and both numbers.

    The typed rows change places, so that what is rebuilt stands in the new order.
    """
    action, name, _ = posted.row
    path = split_name(name)[0]
    if action not in ("up", "down") or len(path) < 2 or not isinstance(path[-1], int):
        return None
    parent = posted.typed.at(path[:-1])
    rows = row_numbers(parent)
    if parent is None or path[-1] not in rows:
        return None
    place = rows.index(path[-1]) + (-1 if action == "up" else 1)
    if not 0 <= place < len(rows):
        return None
    one, other = path[-1], rows[place]
    parent.children[one], parent.children[other] = parent.children[other], parent.children[one]
    return str(path[-2]), one, other


def swapped(numbers: Mapping[int, int], one: int, other: int) -> dict[int, int]:
    """Return places by row number after two rows have changed places.

    >>> swapped({0: 0, 1: 1, 2: 2}, 1, 2)
    {0: 0, 1: 2, 2: 1}
    """
    places = dict(numbers)
    if one in places and other in places:
        places[one], places[other] = places[other], places[one]
    return places


def key_from(name: str, taken: Collection[str]) -> str:
    """Return a task's key made from its name, one that no other task has.

    >>> key_from("Wire motors & bus!", ()), key_from("Wire", ("wire",)), key_from("Прошить", ())
    ('wire-motors-bus', 'wire-2', 'task')
    """
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:LONGEST_KEY].strip("-") or "task"
    if stem not in taken:
        return stem
    number = 2
    while (key := f"{stem[: LONGEST_KEY - len(str(number)) - 1]}-{number}") in taken:
        number += 1
    return key


def texts_of(row: Typed | None, *path: str | int) -> list[str]:
    """Return everything posted under one name of a row, such as all ticked boxes."""
    node = row.at(path) if row is not None else None
    return [text for text in (node.texts.get("", []) if node is not None else []) if text]


def is_nothing(values: Sequence[Any] | Mapping[str, Any] | None) -> bool:
    """Return whether a group or list holds only empty texts and empty groups."""
    if isinstance(values, Mapping):
        values = list(values.values())
    if isinstance(values, Sequence) and not isinstance(values, str):
        return all(is_nothing(value) for value in values)
    return values in (None, "")
