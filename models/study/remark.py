"""What a remark on odd input is made of.

Contents: `Remark`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Remark:
    """One thing that looks odd: where, what, why, and the likely fix."""

    place: str
    candidate_key: str | None
    what: str
    why: str
    fix: str
    fix_value: Any = None
    """What to type at the place where one tap would mend it."""

    def __str__(self) -> str:
        return " ".join(words for words in (self.what, self.why, self.fix) if words)
