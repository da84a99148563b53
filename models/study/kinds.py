"""The kinds of field a study has: each knows its label, unit, limits and how to read what is typed.

A kind stands in the annotation of a schema field, `Annotated[Estimate, Number("m", 0.01, 1.0,
"Diameter")]`. Validation, error messages, forms and the words of the history all read it there.

Contents: `Number`, `Whole`, `Ratio`, `Text`, `Key`, `Choice`, `Truth`, `TruthOrWord`, `Day`,
`Clock`; `Label` and `Group` add words to a field that has its kind from elsewhere.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import NoneType
from typing import Any, get_args

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from models.study.numbers import (
    Estimate,
    NumberRefusedError,
    is_clean_text,
    read_estimate,
    read_ratio,
)
from models.units import UnitSystem, display_unit, quoted

LONGEST_TEXT = 120
LARGEST_QUOTED = 1e30
KEY_PATTERN = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


def brief(given: Any) -> Any:
    """Return what was given, fit to be sent and quoted: no groups, no odd letters, no NaN."""
    if isinstance(given, str):
        return "".join(letter if letter.isprintable() else "?" for letter in given[:200])
    if isinstance(given, int | float):
        return given if abs(given) < LARGEST_QUOTED else None
    return None


def refusal(message: str, *, limit: str = "", given: Any = None, member: str = "") -> Exception:
    """Return the error that a kind raises; its sentence reaches the user as it stands."""
    return PydanticCustomError(
        "study",
        "{message}",
        {"message": message, "limit": limit, "given": brief(given), "member": member},
    )


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What all fields have: words for the page and, at most, a default that is stated there."""

    label: str = ""
    hint: str = ""

    def read(self, typed: Any) -> Any:
        """Return the value of what was typed, or raise `refusal`."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Let pydantic read the field through this kind alone; `X | None` takes null too."""
        read = core_schema.no_info_plain_validator_function(self.read)
        return core_schema.nullable_schema(read) if NoneType in get_args(source) else read


@dataclass(frozen=True)
class Number(Kind):
    """A quantity with a unit key and the range that a study may hold."""

    unit: str
    minimum: float
    maximum: float
    above_minimum: bool = False
    """Whether the minimum itself is left out."""

    def read(self, typed: Any) -> Estimate:
        """Return the estimate, refused outside the limits with both stated."""
        try:
            estimate = self._estimate(typed)
        except NumberRefusedError as error:
            raise refusal(str(error), given=typed, member=error.member) from None
        self._check(estimate, typed, "value")
        if estimate.has_range:
            self._check(estimate.low, typed, "low")
            self._check(estimate.high, typed, "high")
        return estimate

    def _estimate(self, typed: Any) -> Estimate:
        return read_estimate(typed, self.unit)

    def _check(self, value: float, typed: Any, member: str) -> None:
        too_low = value <= self.minimum if self.above_minimum else value < self.minimum
        if not too_low and value <= self.maximum:
            return
        given = typed
        if isinstance(typed, Mapping):
            given = typed.get(member, value)
        words = "" if member == "value" else f"the {member} end, "
        sentence = (
            f"{words}{_as_given(given, value, self.unit)} is out of range; type {self.limit}."
        )
        raise refusal(
            sentence[0].upper() + sentence[1:] + self._advice(value),
            limit=self.limit,
            given=given,
            member=member if isinstance(typed, Mapping) else "",
        )

    @property
    def limit(self) -> str:
        """The allowed range in words, with its unit."""
        low, high = (_limit_text(value, self.unit) for value in (self.minimum, self.maximum))
        return f"above {low}, up to {high}" if self.above_minimum else f"{low} to {high}"

    def _advice(self, value: float) -> str:
        """Return the likely slip behind a figure out of range, or nothing."""
        inches = value * 0.0254
        if self.unit == "m" and value > self.maximum and self.minimum <= inches <= self.maximum:
            return f" If it is in inches, type {_plain_digits(value)} in."
        millimetres = value / 1000
        if self.unit == "m" and value > self.maximum and millimetres <= self.maximum:
            return f" If it is in millimetres, type {_plain_digits(value)} mm."
        if self.unit == "ohm" and value > self.maximum and value / 1000 <= self.maximum:
            return f" If it is in milliohms, type {_plain_digits(value)} mΩ."
        if self.maximum == 1.0 and self.unit == "" and self.maximum < value <= 100.0:
            return f" If it is a percentage, type {_plain_digits(value)} %."
        return ""


def _limit_text(value: float, unit: str) -> str:
    gap = "" if unit == "deg" else " "
    return f"{_plain_digits(value)}{gap}{display_unit(unit, UnitSystem.SI)}".strip()


def _as_given(given: Any, value: float, unit: str) -> str:
    if isinstance(given, str):
        return quoted(given)
    return _limit_text(value, unit)


def _plain_digits(value: float) -> str:
    return f"{value:.6g}"


@dataclass(frozen=True)
class Ratio(Number):
    """A reduction ratio, which may be typed as a chain of tooth counts too."""

    def _estimate(self, typed: Any) -> Estimate:
        return read_ratio(typed)


@dataclass(frozen=True)
class Whole(Number):
    """A whole number: a count or an index."""

    def read(self, typed: Any) -> int:  # type: ignore[override]
        """Return the count, refused where it is not whole."""
        estimate = super().read(typed)
        if not estimate.is_integer():
            raise refusal(
                f"{_plain_digits(estimate)} is not a whole number; type one from {self.limit}.",
                limit=self.limit,
                given=typed,
            )
        return int(estimate)


@dataclass(frozen=True)
class Text(Kind):
    """A text for people to read, one line or several."""

    longest: int = LONGEST_TEXT
    may_be_empty: bool = False

    def read(self, typed: Any) -> str:
        """Return the text, refused where it is empty, too long or cannot be shown."""
        if not isinstance(typed, str):
            raise refusal("A text belongs here.", given=typed)
        if len(typed) > self.longest:
            raise refusal(
                f"The text has {len(typed)} characters; {self.longest} at most.",
                limit=f"{self.longest} characters",
                given=typed,
            )
        if not is_clean_text(typed):
            raise refusal("The text holds characters that cannot be shown; type it anew.")
        if not typed.strip() and not self.may_be_empty:
            raise refusal("The text is empty; type a name.", given=typed)
        return typed


@dataclass(frozen=True)
class Key(Kind):
    """A short key that files and addresses use: letters, digits, - and _."""

    def read(self, typed: Any) -> str:
        """Return the key, refused where an address could not hold it."""
        if not isinstance(typed, str) or not KEY_PATTERN.fullmatch(typed):
            raise refusal(
                "A key has letters, digits, - and _ only, 40 at most, and begins with a letter "
                "or digit.",
                limit="letters, digits, - and _",
                given=typed,
            )
        return typed


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words."""

    choices: tuple[str, ...]

    def read(self, typed: Any) -> str:
        """Return the word, refused with the list of those that stand open."""
        if isinstance(typed, str) and typed in self.choices:
            return typed
        given = quoted(typed) if isinstance(typed, str) else "This"
        near = get_close_matches(typed, self.choices, 1) if isinstance(typed, str) else []
        meant = f" Did you mean {near[0]}?" if near else ""
        open_to_choose = " or ".join((", ".join(self.choices[:-1]), self.choices[-1]))
        raise refusal(
            f"{given} is not {open_to_choose.removeprefix(' or ')}.{meant}",
            limit=", ".join(self.choices),
            given=typed,
        )


@dataclass(frozen=True)
class Truth(Kind):
    """Yes or no."""

    def read(self, typed: Any) -> bool:
        """Return true or false; a word or number that looks like one is refused."""
        if isinstance(typed, bool):
            return typed
        raise refusal("Only true or false belongs here, without quotation marks.", given=typed)


@dataclass(frozen=True)
class TruthOrWord(Kind):
    """Yes, no, or a word that a figure can have, such as traction."""

    def read(self, typed: Any) -> bool | str:
        """Return the truth value or the word."""
        return typed if isinstance(typed, bool) else Text(longest=60).read(typed)


@dataclass(frozen=True)
class Day(Kind):
    """A date, written year-month-day."""

    def read(self, typed: Any) -> dt.date:
        """Return the date, refused where the calendar has no such day."""
        if isinstance(typed, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", typed):
            try:
                day = dt.date.fromisoformat(typed)
            except ValueError:
                raise refusal(
                    f"The calendar has no {quoted(typed)}; check month and day.", given=typed
                ) from None
            if 2000 <= day.year <= 2199:
                return day
        given = quoted(typed) if isinstance(typed, str) else "This"
        raise refusal(
            f"{given} is not a date; write it as 2031-03-25, in the years 2000 to 2199.",
            limit="year-month-day",
            given=typed,
        )


@dataclass(frozen=True)
class Clock(Kind):
    """A time of day, written hours:minutes."""

    def read(self, typed: Any) -> dt.time:
        """Return the time of day."""
        if isinstance(typed, str) and re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", typed):
            return dt.time.fromisoformat(typed)
        given = quoted(typed) if isinstance(typed, str) else "This"
        raise refusal(
            f"{given} is not a time of day; write it as 18:00.", limit="00:00 to 23:59", given=typed
        )


@dataclass(frozen=True)
class Label:
    """Words for a field whose kind is shared with others."""

    label: str
    hint: str = ""


@dataclass(frozen=True)
class Group:
    """Words for a list or group of fields, and how many entries it may have.

    `items` names the entries where each has a meaning of its own: forward, left, up.
    """

    label: str = ""
    hint: str = ""
    least: int = 0
    most: int = 0
    one: str = "entry"
    items: tuple[str, ...] = ()

    def check(self, typed: Any) -> Any:
        """Return the list or group as it came, refused where it has too few or many entries."""
        if typed is None:
            return None
        if not isinstance(typed, list | tuple | dict):
            if not self.items and not self.most:
                return typed  # the kind inside says what belongs here
            raise refusal(f"{self._belongs()} belongs here.", given=typed)
        count = len(typed)
        if self.items and count != len(self.items):
            raise refusal(f"{self._belongs()} belongs here; {count} stand here.")
        if count < self.least:
            raise refusal(
                f"At least {self.least} {self.one} is needed; {count} given.",
                limit=f"{self.least} at least",
            )
        if self.most and count > self.most:
            raise refusal(
                f"Here are {count} entries; {self.most} at most.", limit=f"{self.most} at most"
            )
        return typed

    def _belongs(self) -> str:
        if self.items:
            return f"A list of {len(self.items)} numbers, [{', '.join(self.items)}],"
        return f"A list or group with one {self.one} after another"

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Check the number of entries before pydantic reads them one by one."""
        return core_schema.no_info_before_validator_function(self.check, handler(source))
