"""Numbers of a study: a value, the range it may lie in, and where it came from.

Wherever a study has a number it may be typed as a number, as a text with a unit ("4 in") or as an
estimate `{"value", "low", "high", "source", "note"}`; a ratio may also be a chain of tooth counts.

Contents: `Estimate`, `read_estimate`, `read_ratio`, `tooth_stages`, `chain_of`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any, Literal, NamedTuple, Self, get_args

from models.errors import UnitError
from models.units import parse_number, quoted

Source = Literal["measured", "datasheet", "practice", "assumed"]
SOURCES: tuple[Source, ...] = get_args(Source)

_ESTIMATE_KEYS = ("value", "low", "high", "source", "note")
LONGEST_NOTE = 500
LARGEST_WHOLE_AS_TEXT = 10**30
MOST_STAGES = 8
MOST_TEETH = 1000


class Estimate(float):
    """A number that remembers its range, its source and how it was typed.

    It is a float everywhere; `low` and `high` equal the value where no range was stated.

    >>> grip = Estimate(1.1, low=0.9, high=1.3, source="assumed")
    >>> grip * 2, grip.low, grip.has_range
    (2.2, 0.9, True)
    """

    __slots__ = ("high", "low", "note", "source", "typed")

    low: float
    high: float
    source: Source | None
    note: str
    typed: Any

    def __new__(
        cls,
        value: float,
        *,
        low: float | None = None,
        high: float | None = None,
        source: Source | None = None,
        note: str = "",
        typed: Any = None,
    ) -> Self:
        """Make an estimate; without a range it is taken as exact."""
        self = super().__new__(cls, value)
        self.low = float(value) if low is None else float(low)
        self.high = float(value) if high is None else float(high)
        self.source = source
        self.note = note
        self.typed = float(value) if typed is None else typed
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        """Copy by making anew, since slots of a float subclass are not copied by themselves."""
        remembered = {name: getattr(self, name) for name in self.__slots__}
        return (_remake, (float(self), remembered))

    @property
    def has_range(self) -> bool:
        """Whether a range was stated that is wider than the value itself."""
        return self.high > self.low


def _remake(value: float, remembered: dict[str, Any]) -> Estimate:
    return Estimate(value, **remembered)


class NumberRefusedError(ValueError):
    """A number that cannot be taken; the message is a sentence for the user."""

    def __init__(self, message: str, *, member: str = "") -> None:
        self.member = member
        super().__init__(message)


class ToothStage(NamedTuple):
    """One gear stage, written as the user wrote it, and the reduction that it gives."""

    first: float
    second: float
    reduction: float


class ToothChain(NamedTuple):
    """A chain of stages, whether it was read driver first, and the whole reduction."""

    stages: tuple[ToothStage, ...]
    driver_first: bool
    reduction: float

    @property
    def words(self) -> str:
        """The stages' reductions as a product."""
        return " × ".join(f"{stage.reduction:.3f}" for stage in self.stages)

    @property
    def is_mixed(self) -> bool:
        """Whether some stages gear down and others up."""
        return len({stage.reduction > 1 for stage in self.stages}) > 1


def read_estimate(typed: Any, unit: str) -> Estimate:
    """Return the estimate that a study file or form gives for a quantity.

    Parameters
    ----------
    typed : a number, a text with or without a unit, or an estimate object
    unit : unit key of the quantity

    Raises `NumberRefusedError` with a sentence; its `member` names the part of an estimate object.

    >>> read_estimate({"value": "4 in", "low": "3.9 in", "source": "measured"}, "m").source
    'measured'
    """
    return _read_any(typed, lambda member: _plain(member, unit))


def read_ratio(typed: Any) -> Estimate:
    """Return a reduction ratio from a number, a text, a chain of tooth counts or an estimate.

    >>> round(read_ratio("50:14, 17:27, 45:15"), 3), float(read_ratio("6.75:1"))
    (6.746, 6.75)
    """
    return _read_any(typed, _plain_ratio)


def _read_any(typed: Any, plain: Callable[[Any], float]) -> Estimate:
    if isinstance(typed, Estimate):
        return typed
    if isinstance(typed, int | float | str) or not isinstance(typed, Mapping):
        return Estimate(plain(typed), typed=typed)
    unknown = [key for key in typed if key not in _ESTIMATE_KEYS]
    if unknown:
        raise NumberRefusedError(
            f"An estimate has no {quoted(str(unknown[0]))}; it has value, low, high, source, note.",
            member=str(unknown[0])[:60],
        )
    if "value" not in typed:
        raise NumberRefusedError("The estimate has no value; state one.", member="value")
    value = _member(typed, "value", plain)
    low = _member(typed, "low", plain) if typed.get("low") is not None else None
    high = _member(typed, "high", plain) if typed.get("high") is not None else None
    _check_order(typed, value, low, high)
    source = typed.get("source")
    if source is not None and source not in SOURCES:
        raise NumberRefusedError(
            f"{_shortened(source)} is not a source; use {', '.join(SOURCES[:-1])} or "
            f"{SOURCES[-1]}.",
            member="source",
        )
    note = typed.get("note")
    note = "" if note is None else note
    if not isinstance(note, str) or len(note) > LONGEST_NOTE or not is_clean_text(note):
        raise NumberRefusedError(
            f"The note has to be a text of at most {LONGEST_NOTE} characters.", member="note"
        )
    return Estimate(value, low=low, high=high, source=source, note=note, typed=dict(typed))


def _member(typed: Mapping[str, Any], name: str, plain: Callable[[Any], float]) -> float:
    try:
        return plain(typed[name])
    except NumberRefusedError as refusal:
        raise NumberRefusedError(str(refusal), member=name) from None


def _check_order(
    typed: Mapping[str, Any], value: float, low: float | None, high: float | None
) -> None:
    if low is not None and low > value:
        raise NumberRefusedError(
            f"The low end, {_shortened(typed['low'])}, lies above the value, "
            f"{_shortened(typed['value'])}; a range has low ≤ value ≤ high.",
            member="low",
        )
    if high is not None and high < value:
        raise NumberRefusedError(
            f"The high end, {_shortened(typed['high'])}, lies below the value, "
            f"{_shortened(typed['value'])}; a range has low ≤ value ≤ high.",
            member="high",
        )


def _plain(typed: Any, unit: str) -> float:
    """Return the value of a number or text that is not an estimate object."""
    if isinstance(typed, bool):
        raise NumberRefusedError(f"“{str(typed).lower()}” is not a number; type a figure.")
    if isinstance(typed, int):
        if abs(typed) > LARGEST_WHOLE_AS_TEXT:
            raise NumberRefusedError("The number is far too large; check its zeros.")
        return float(typed)
    if isinstance(typed, float):
        if not math.isfinite(typed):
            raise NumberRefusedError("NaN and infinity are not numbers; type a figure.")
        return float(typed)
    if isinstance(typed, str):
        try:
            return parse_number(typed, unit)
        except UnitError as refusal:
            raise NumberRefusedError(str(refusal)) from None
    raise NumberRefusedError(f"{_shortened(typed)} stands where a number belongs; type a figure.")


def _plain_ratio(typed: Any) -> float:
    if isinstance(typed, str) and (":" in typed or "/" in typed):
        return tooth_stages(typed).reduction
    return _plain(typed, "")


_STAGE = re.compile(r"\s*([0-9]{1,4}(?:\.[0-9]{1,6})?)\s*[:/]\s*([0-9]{1,4}(?:\.[0-9]{1,6})?)\s*")
_BETWEEN_STAGES = re.compile(r"\s*[,;·×*xX]\s*|(?<=[0-9])\s+(?=[0-9])")


def tooth_stages(text: str) -> ToothChain:
    """Return the stages of a tooth chain and its reduction (motor turns per wheel turn).

    Stages are pairs of tooth counts, `50:14`, parted by commas, semicolons, dots, crosses or
    blanks. All stages are read in one order. Driven first is the rule: the reduction is the
    product of first/second. A drive base gears down, so a chain whose product comes out below 1
    is read driver first, as the product of second/first; both ways of writing give one figure.

    Parameters
    ----------
    text : the chain as typed

    Raises `NumberRefusedError` where a stage is not a pair of counts above zero.

    >>> round(tooth_stages("50:14, 17:27, 45:15").reduction, 4)
    6.746
    >>> [round(stage.reduction, 4) for stage in tooth_stages("14:50 · 27:17 · 15:45").stages]
    [3.5714, 0.6296, 3.0]

    Source: own derivation; the reduction of gears in series is the product of their stages.
    """
    if len(text) > 120:
        raise NumberRefusedError(f"{quoted(text)} is too long for a tooth chain.")
    pairs = []
    for piece in _BETWEEN_STAGES.split(text.strip()):
        match = _STAGE.fullmatch(piece)
        if match is None:
            raise NumberRefusedError(_chain_help(text))
        first, second = (float(teeth) for teeth in match.groups())
        if not (0 < first <= MOST_TEETH and 0 < second <= MOST_TEETH):
            raise NumberRefusedError(
                f"{quoted(piece)} has a count out of reach; tooth counts go from 1 to {MOST_TEETH}."
            )
        pairs.append((first, second))
    if len(pairs) > MOST_STAGES:
        raise NumberRefusedError(f"The chain has {len(pairs)} stages; {MOST_STAGES} at most.")
    driver_first = math.prod(first for first, _ in pairs) < math.prod(last for _, last in pairs)
    stages = tuple(
        ToothStage(first, last, last / first if driver_first else first / last)
        for first, last in pairs
    )
    driven = math.prod(last if driver_first else first for first, last in pairs)
    driving = math.prod(first if driver_first else last for first, last in pairs)
    return ToothChain(stages, driver_first, driven / driving)


def chain_of(ratio: Estimate) -> ToothChain | None:
    """Return the tooth chain that a ratio was typed as, or None where it was a plain number.

    >>> chain_of(read_ratio("50:14")).reduction == 50 / 14, chain_of(read_ratio(6.75)) is None
    (True, True)
    """
    typed = ratio.typed.get("value") if isinstance(ratio.typed, Mapping) else ratio.typed
    if not isinstance(typed, str) or not (":" in typed or "/" in typed):
        return None
    return tooth_stages(typed)


def _chain_help(text: str) -> str:
    if re.fullmatch(r"\s*[0-9]+,[0-9]+\s*[:/]\s*1\s*", text):
        return f"{quoted(text)} has a decimal comma; type {text.strip().replace(',', '.')}."
    return f"{quoted(text)} is not a ratio; type 6.75, or tooth counts such as 50:14, 17:27, 45:15."


def is_clean_text(text: str) -> bool:
    """Return whether a text can be stored and shown: no control characters, no half characters.

    >>> is_clean_text("lift foot"), is_clean_text("bell" + chr(7)), is_clean_text(chr(0xD800))
    (True, False, False)
    """
    return text.isprintable() or all(
        character >= " " and not ("\ud800" <= character <= "\udfff") and character != "\x7f"
        for character in text.replace("\n", " ").replace("\r", " ").replace("\t", " ")
    )


def _shortened(typed: Any) -> str:
    if isinstance(typed, str):
        return quoted(typed)
    if isinstance(typed, Mapping):
        return "A group of fields"
    if isinstance(typed, list | tuple):
        return "A list"
    return "Nothing" if typed is None else str(typed)[:40]
