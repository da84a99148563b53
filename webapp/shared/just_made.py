"""Secrets shown once: remembered for a while, so that a form sent twice shows the same again."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Generic, TypeVar

Made = TypeVar("Made")


class JustMade(Generic[Made]):
    """What the last presses of a button made, with its secret, by the form's key, in memory only.

    A link's token is stored nowhere in the clear, so a form that arrives twice (a double press, a
    reload) can show the same link again only while it is remembered here.
    """

    def __init__(self, most: int = 50) -> None:
        self._most = most
        self._made: OrderedDict[tuple[str, str], tuple[Made, str]] = OrderedDict()
        self.lock = threading.Lock()

    def find(self, study_id: str, once: str) -> tuple[Made, str] | None:
        """Return what was made under this key, if it is still remembered."""
        return self._made.get((study_id, once)) if once else None

    def remember(self, study_id: str, once: str, made: Made, token: str) -> None:
        """Remember what was just made; forget the oldest beyond the limit."""
        self._made[study_id, once] = (made, token)
        while len(self._made) > self._most:
            self._made.popitem(last=False)
