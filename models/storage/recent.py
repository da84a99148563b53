"""A small store in memory of what was used last, safe between threads."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Recent(Generic[Value]):
    """Keeps the values used last, up to a number, and forgets the one unused for longest.

    >>> kept = Recent[int](limit=2)
    >>> for key in "aba":
    ...     kept.put(key, ord(key))
    >>> kept.put("c", 99)
    >>> kept.get("a"), kept.get("b")
    (97, None)
    """

    def __init__(self, *, limit: int) -> None:
        self._limit = limit
        self._values: OrderedDict[Hashable, Value] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable) -> Value | None:
        """The value kept under a key, None if there is none."""
        with self._lock:
            if key not in self._values:
                return None
            self._values.move_to_end(key)
            return self._values[key]

    def put(self, key: Hashable, value: Value) -> None:
        """Keep a value; beyond the limit the one unused for longest goes."""
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._limit:
                self._values.popitem(last=False)
