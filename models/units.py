"""Units: reading what people type and showing what the program knows.

A unit key is the ending of a study-file name (`m`, `kg`, `mps2`, `ohm` …); `""` stands for a
ratio, a share, a count or a word. Values are SI inside; `rpm`, `deg`, `ah`, `mm2`, `min`, `h` and
`d` are kept as the trade writes them.

Contents: `parse_number` (text → value), `show`, `show_bare` (value → text), `convert`,
`display_unit`, and two helpers for columns, `small_for` and `common_decimals`.

Factors: the pound is 0.45359237 kg and the foot 0.3048 m exactly (international yard and pound
agreement, 1959); standard gravity is 9.80665 m/s² (3rd CGPM, 1901). All others follow from them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from models.errors import UnitError

INCH_M = 0.0254
FOOT_M = 0.3048
POUND_KG = 0.45359237
GRAVITY_MPS2 = 9.80665
POUND_FORCE_N = POUND_KG * GRAVITY_MPS2

NOT_GIVEN = "not given"
MINUS = "\N{MINUS SIGN}"
LONGEST_NUMBER = 40
LONGEST_UNIT = 16
LARGEST_EXPONENT = 30


class UnitSystem(StrEnum):
    """The two systems in which every figure can be shown."""

    SI = "si"
    INCH_POUND = "inch-pound"


@dataclass(frozen=True)
class _Shown:
    """One way to show a quantity: the unit text, how many of it one stored unit is, an offset."""

    text: str
    factor: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True)
class _Dimension:
    """A quantity: its words, how it is shown in each system, and what may be typed."""

    name: str
    examples: str
    si: _Shown
    si_small: _Shown
    inch: _Shown
    inch_small: _Shown
    small_below: float
    typed: dict[str, float]


def _dimension(
    name: str,
    examples: str,
    typed: dict[str, float],
    si: _Shown,
    *,
    si_small: _Shown | None = None,
    inch: _Shown | None = None,
    inch_small: _Shown | None = None,
    small_below: float = 0.0,
) -> _Dimension:
    inch = inch or si
    si_small = si_small or si
    inch_small = inch_small or (inch if inch is not si else si_small)
    return _Dimension(name, examples, si, si_small, inch, inch_small, small_below, typed)


_LENGTHS = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0,
    "mm": 1e-3, "cm": 1e-2,
    "in": INCH_M, "inch": INCH_M, "inches": INCH_M, '"': INCH_M, "″": INCH_M, "”": INCH_M,
    "ft": FOOT_M, "foot": FOOT_M, "feet": FOOT_M, "'": FOOT_M, "′": FOOT_M, "’": FOOT_M,
    "mil": INCH_M / 1000, "thou": INCH_M / 1000,
}  # fmt: skip
_TORQUES = {
    "nm": 1.0, "mnm": 1e-3, "ncm": 1e-2, "kgfcm": GRAVITY_MPS2 / 100,
    "lbfin": POUND_FORCE_N * INCH_M, "inlbf": POUND_FORCE_N * INCH_M,
    "lbin": POUND_FORCE_N * INCH_M, "inlb": POUND_FORCE_N * INCH_M,
    "lbfft": POUND_FORCE_N * FOOT_M, "ftlbf": POUND_FORCE_N * FOOT_M,
    "lbft": POUND_FORCE_N * FOOT_M, "ftlb": POUND_FORCE_N * FOOT_M,
    "ozfin": POUND_FORCE_N / 16 * INCH_M, "ozin": POUND_FORCE_N / 16 * INCH_M,
    "inoz": POUND_FORCE_N / 16 * INCH_M,
}  # fmt: skip
_MASS_WORDS = {
    "kg": 1.0, "g": 1e-3, "lb": POUND_KG, "lbs": POUND_KG, "lbm": POUND_KG,
    "pound": POUND_KG, "pounds": POUND_KG, "oz": POUND_KG / 16,
}  # fmt: skip
_TURN = 2.0 * math.pi

_DIMENSIONS: dict[str, _Dimension] = {
    "m": _dimension(
        "a length", "m, mm, in or ft", _LENGTHS, _Shown("m"),
        si_small=_Shown("mm", 1e3), inch=_Shown("ft", 1 / FOOT_M),
        inch_small=_Shown("in", 1 / INCH_M), small_below=1.0,
    ),
    "kg": _dimension(
        "a mass", "kg, g or lb", _MASS_WORDS, _Shown("kg"), inch=_Shown("lb", 1 / POUND_KG),
    ),
    "s": _dimension(
        "a time", "s, ms or min",
        {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3, "min": 60.0},
        _Shown("s"),
    ),
    "h": _dimension(
        "a number of hours", "h or min",
        {"h": 1.0, "hr": 1.0, "hrs": 1.0, "hour": 1.0, "hours": 1.0, "min": 1 / 60}, _Shown("h"),
    ),
    "min": _dimension(
        "a number of minutes", "min, s or h",
        {"min": 1.0, "minute": 1.0, "minutes": 1.0, "s": 1 / 60, "h": 60.0, "hour": 60.0,
         "hours": 60.0}, _Shown("min"),
    ),
    "d": _dimension(
        "a number of days", "days or weeks",
        {"d": 1.0, "day": 1.0, "days": 1.0, "week": 7.0, "weeks": 7.0}, _Shown("days"),
    ),
    "mps": _dimension(
        "a speed", "m/s, ft/s, km/h or mph",
        {"m/s": 1.0, "mps": 1.0, "ft/s": FOOT_M, "fps": FOOT_M, "in/s": INCH_M,
         "km/h": 1 / 3.6, "kph": 1 / 3.6, "kmh": 1 / 3.6, "mph": 5280 * FOOT_M / 3600},
        _Shown("m/s"), inch=_Shown("ft/s", 1 / FOOT_M),
    ),
    "mps2": _dimension(
        "an acceleration", "m/s², ft/s² or g",
        {"m/s2": 1.0, "m/s/s": 1.0, "mps2": 1.0, "ft/s2": FOOT_M, "ft/s/s": FOOT_M,
         "g": GRAVITY_MPS2}, _Shown("m/s²"), inch=_Shown("ft/s²", 1 / FOOT_M),
    ),
    "n": _dimension(
        "a force", "N, kN or lbf",
        {"n": 1.0, "kn": 1e3, "newton": 1.0, "newtons": 1.0, "lbf": POUND_FORCE_N,
         "kgf": GRAVITY_MPS2}, _Shown("N"), inch=_Shown("lbf", 1 / POUND_FORCE_N),
    ),
    "nm": _dimension(
        "a torque", "N·m or lbf·in", _TORQUES, _Shown("N·m"),
        inch=_Shown("lbf·in", 1 / (POUND_FORCE_N * INCH_M)),
    ),
    "a": _dimension(
        "a current", "A or mA",
        {"a": 1.0, "amp": 1.0, "amps": 1.0, "ampere": 1.0, "amperes": 1.0, "ma": 1e-3},
        _Shown("A"),
    ),
    "v": _dimension(
        "a voltage", "V or mV", {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 1e-3}, _Shown("V"),
    ),
    "ohm": _dimension(
        "a resistance", "Ω, ohm, mΩ or mohm",
        {"ohm": 1.0, "ohms": 1.0, "ω": 1.0, "Ω": 1.0, "mohm": 1e-3, "mohms": 1e-3, "mω": 1e-3,
         "milliohm": 1e-3, "milliohms": 1e-3},
        _Shown("Ω"), si_small=_Shown("mΩ", 1e3), small_below=1.0,
    ),
    "ah": _dimension(
        "a battery capacity", "Ah or mAh", {"ah": 1.0, "mah": 1e-3}, _Shown("Ah"),
    ),
    "j": _dimension(
        "an energy", "J, kJ or Wh", {"j": 1.0, "kj": 1e3, "wh": 3600.0},
        _Shown("kJ", 1e-3), si_small=_Shown("J"), small_below=1000.0,
    ),
    "w": _dimension(
        "a power", "W, kW or hp",
        {"w": 1.0, "kw": 1e3, "watt": 1.0, "watts": 1.0, "hp": 550 * FOOT_M * POUND_FORCE_N},
        _Shown("W"),
    ),
    "kgm2": _dimension(
        "a moment of inertia", "kg·m², kg·cm² or lb·in²",
        {"kgm2": 1.0, "kgcm2": 1e-4, "gcm2": 1e-7, "lbin2": POUND_KG * INCH_M**2,
         "lbft2": POUND_KG * FOOT_M**2, "ozin2": POUND_KG / 16 * INCH_M**2},
        _Shown("kg·m²"), si_small=_Shown("kg·cm²", 1e4), small_below=0.05,
        inch=_Shown("lb·ft²", 1 / (POUND_KG * FOOT_M**2)),
        inch_small=_Shown("lb·in²", 1 / (POUND_KG * INCH_M**2)),
    ),
    "kgm3": _dimension(
        "a density", "kg/m³, g/cm³ or lb/in³",
        {"kg/m3": 1.0, "kgm3": 1.0, "g/cm3": 1e3, "lb/in3": POUND_KG / INCH_M**3,
         "lb/ft3": POUND_KG / FOOT_M**3},
        _Shown("kg/m³"), inch=_Shown("lb/in³", INCH_M**3 / POUND_KG),
    ),
    "rpm": _dimension(
        "a rotation speed", "rpm or rad/s",
        {"rpm": 1.0, "1/min": 1.0, "r/min": 1.0, "rev/min": 1.0, "rad/s": 60 / _TURN,
         "rev/s": 60.0, "rps": 60.0, "deg/s": 1 / 6}, _Shown("rpm"),
    ),
    "radps": _dimension(
        "a rotation speed", "rad/s, deg/s or rpm",
        {"rad/s": 1.0, "radps": 1.0, "deg/s": math.pi / 180, "°/s": math.pi / 180,
         "rpm": _TURN / 60, "rev/s": _TURN}, _Shown("rad/s"),
    ),
    "deg": _dimension(
        "an angle", "° or rad",
        {"°": 1.0, "deg": 1.0, "degree": 1.0, "degrees": 1.0, "rad": 180 / math.pi}, _Shown("°"),
    ),
    "m2": _dimension(
        "an area", "m², cm² or in²",
        {"m2": 1.0, "cm2": 1e-4, "mm2": 1e-6, "in2": INCH_M**2, "ft2": FOOT_M**2},
        _Shown("m²"), si_small=_Shown("cm²", 1e4), small_below=0.01,
        inch=_Shown("ft²", 1 / FOOT_M**2), inch_small=_Shown("in²", 1 / INCH_M**2),
    ),
    "mm2": _dimension(
        "a cross-section", "mm², cm² or in²",
        {"mm2": 1.0, "cm2": 100.0, "in2": (1000 * INCH_M) ** 2}, _Shown("mm²"),
        inch=_Shown("in²", 1 / (1000 * INCH_M) ** 2),
    ),
    "m3": _dimension(
        "a volume", "m³, cm³ or in³",
        {"m3": 1.0, "cm3": 1e-6, "mm3": 1e-9, "in3": INCH_M**3, "ft3": FOOT_M**3, "l": 1e-3},
        _Shown("m³"), si_small=_Shown("cm³", 1e6), small_below=0.01,
        inch=_Shown("ft³", 1 / FOOT_M**3), inch_small=_Shown("in³", 1 / INCH_M**3),
    ),
    "c": _dimension(
        "a temperature", "°C", {"°c": 1.0, "c": 1.0, "degc": 1.0},
        _Shown("°C"), inch=_Shown("°F", 1.8, 32.0),
    ),
    "j_per_k": _dimension(
        "a heat capacity", "J/K or kJ/K",
        {"j/k": 1.0, "kj/k": 1e3, "j/°c": 1.0, "j_per_k": 1.0}, _Shown("J/K"),
    ),
    "": _dimension("a plain number", "no unit, or %", {"": 1.0, "%": 0.01}, _Shown("")),
    "share": _dimension("a share", "no unit, or %", {"": 1.0, "%": 0.01}, _Shown("%", 100.0)),
}  # fmt: skip

UNIT_KEYS: tuple[str, ...] = tuple(_DIMENSIONS)
"""Every unit key that a quantity may have."""

_DECIMAL = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION = r"(?:[0-9]{1,6}[ -])?[0-9]{1,6}/[0-9]{1,6}"
_NUMBER = re.compile(rf"\s*([+\-{MINUS}]?)\s*({_FRACTION}|{_DECIMAL})\s*(.*)", re.DOTALL)
_FEET_AND_INCHES = re.compile(
    rf"\s*([+\-{MINUS}]?)\s*([0-9]{{1,6}})\s*(?:ft|feet|foot|'|′|’)\s*-?\s*"
    rf"({_FRACTION}|{_DECIMAL})\s*(?:inches|inch|in|\"|″|”|'')\s*",
    re.IGNORECASE,
)
_COMMA_NUMBER = re.compile(rf"\s*([+\-{MINUS}]?[0-9]*),([0-9]+)(.*)", re.DOTALL)
_SEPARATORS = str.maketrans(dict.fromkeys(" \t\N{NO-BREAK SPACE}·⋅*×^-"))
_POWERS = str.maketrans(
    {"²": "2", "³": "3", "\N{GREEK CAPITAL LETTER OMEGA}": "ω", "\N{OHM SIGN}": "ω"}
)
_MILLI_MATTERS = frozenset({"a", "v", "ohm", "ah", "nm", "n", "j", "w"})


def _dimension_of(unit: str) -> _Dimension:
    try:
        return _DIMENSIONS[unit]
    except KeyError:
        raise UnitError(f"There is no unit key “{unit}”.") from None


def quoted(text: str) -> str:
    """Return what somebody typed in quotation marks, shortened to fit in a sentence.

    >>> quoted("4 in")
    '“4 in”'
    """
    text = " ".join(text[: 4 * LONGEST_NUMBER].split())
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f"“{text if len(text) <= LONGEST_NUMBER else text[: LONGEST_NUMBER - 1] + '…'}”"


def parse_number(text: str, unit: str, *, default_unit_text: str | None = None) -> float:
    """Return the SI value of a number as typed, with or without its unit.

    Grammar: sign, then a decimal (`4.25`, `6e-5`) or an inch fraction (`2 3/4`), then a unit word
    of this quantity; also `5 ft 3 in`. A bare number is in the stored unit, or in
    `default_unit_text` where a form says so.

    Parameters
    ----------
    text : what was typed
    unit : unit key of the quantity
    default_unit_text : the unit that a bare number has, such as "in"

    Raises `UnitError` with a sentence that says what to type.

    >>> round(parse_number("4 in", "m"), 6)
    0.1016
    >>> round(parse_number("125 lb", "kg"), 3)
    56.699
    >>> parse_number("18 mohm", "ohm")
    0.018
    """
    dimension = _dimension_of(unit)
    if unit == "m" and (both := _FEET_AND_INCHES.fullmatch(text[:LONGEST_NUMBER])):
        sign, feet, inches = both.groups()
        length = int(feet) * FOOT_M + _number_from(inches) * INCH_M
        return -length if sign in ("-", MINUS) else length
    match = _NUMBER.fullmatch(text[: 4 * LONGEST_NUMBER])
    if match is None or "," in text:
        raise UnitError(_not_a_number(text, dimension))
    sign, digits, unit_text = match.groups()
    if len(text.strip()) > LONGEST_NUMBER + LONGEST_UNIT or len(digits) > LONGEST_NUMBER:
        raise UnitError(f"{quoted(text)} is too long for a number; type {LONGEST_NUMBER} at most.")
    value = _number_from(digits)
    value = -value if sign in ("-", MINUS) else value
    unit_text = unit_text.strip() or (default_unit_text or "")
    if not unit_text:
        return value
    return _in_stored_unit(value, unit_text, unit, dimension, text)


def _in_stored_unit(
    value: float, unit_text: str, unit: str, dimension: _Dimension, text: str
) -> float:
    word = unit_text.translate(_POWERS).translate(_SEPARATORS)
    lowered = word.lower()
    if unit == "c" and lowered in ("°f", "f", "degf"):
        return (value - 32.0) / 1.8
    mega = word.startswith("M") and unit in _MILLI_MATTERS
    factor = None if mega else dimension.typed.get(lowered)
    if factor is None:
        if not re.match(r"[^0-9]", word):
            raise UnitError(_not_a_number(text, dimension))
        raise UnitError(
            f"{quoted(unit_text[:LONGEST_UNIT])} is not {dimension.name}; "
            f"type {dimension.examples}."
        )
    return value * factor


def _number_from(digits: str) -> float:
    """Return the value of a decimal or a fraction that the grammar has let through."""
    if "/" in digits:
        whole, _, fraction = digits.replace("-", " ").rpartition(" ")
        over, under = fraction.split("/")
        if int(under) == 0:
            raise UnitError(f"{quoted(digits)} divides by zero; type a decimal number.")
        return (int(whole) if whole else 0) + int(over) / int(under)
    exponent = re.search(r"[eE]([+-]?[0-9]+)", digits)
    if exponent and abs(int(exponent.group(1))) > LARGEST_EXPONENT:
        raise UnitError(
            f"{quoted(digits)} is out of reach; exponents go from -{LARGEST_EXPONENT} "
            f"to {LARGEST_EXPONENT}."
        )
    return float(digits)


def _not_a_number(text: str, dimension: _Dimension) -> str:
    if not text.strip():
        where = "" if "" in dimension.typed else f", in {dimension.examples}"
        return f"Nothing is typed; type {dimension.name}{where}."
    comma = _COMMA_NUMBER.fullmatch(text[: 2 * LONGEST_NUMBER])
    if comma is None:
        plain = "" in dimension.typed
        what = "a number such as 0.9 or 90 %" if plain else f"a number, then {dimension.examples}"
        return f"{quoted(text)} is not {dimension.name}; type {what}."
    whole, decimals, rest = (part.strip() for part in comma.groups())
    point = f"{whole or '0'}.{decimals} {rest}".strip()
    if "." in rest or "," in rest:
        return f"{quoted(text)} has a comma in it; type digits with one decimal point only."
    if len(decimals) == 3 and whole.lstrip("+-") not in ("", "0"):
        thousands = f"{whole}{decimals} {rest}".strip()
        return (
            f"{quoted(text)} has a comma in it; type {point} for a decimal or {thousands} for "
            "thousands."
        )
    return f"{quoted(text)} has a decimal comma; type {point}."


def display_unit(unit: str, system: UnitSystem, *, small: bool = False) -> str:
    """Return the unit text in which a quantity is shown, "" for a plain number.

    >>> display_unit("mps", UnitSystem.INCH_POUND), display_unit("m", UnitSystem.SI, small=True)
    ('ft/s', 'mm')
    """
    return _shown(unit, system, small).text


def convert(value: float, unit: str, system: UnitSystem, *, small: bool = False) -> float:
    """Return the stored value in the unit in which `display_unit` shows it.

    >>> round(convert(0.1016, "m", UnitSystem.INCH_POUND, small=True), 6)
    4.0
    """
    shown = _shown(unit, system, small)
    return float(value) * shown.factor + shown.offset


def _shown(unit: str, system: UnitSystem, small: bool) -> _Shown:
    dimension = _dimension_of(unit)
    if system == UnitSystem.INCH_POUND:
        return dimension.inch_small if small else dimension.inch
    return dimension.si_small if small else dimension.si


def small_for(values: Iterable[float | None], unit: str) -> bool:
    """Return whether a row of values reads better in the small unit (mm, in, mΩ …).

    >>> small_for([0.012, None, -0.004], "m"), small_for([3.05, 0.4], "m")
    (True, False)
    """
    below = _dimension_of(unit).small_below
    return all(abs(value) < below for value in values if value is not None) and below > 0


def decimals_of(value: float, digits: int) -> int:
    """Return how many decimals show a number to so many significant figures, never below 0.

    >>> decimals_of(4.8312, 3), decimals_of(9.996, 3), decimals_of(0.05, 3), decimals_of(1234, 3)
    (2, 1, 4, 0)
    """
    if value == 0 or not math.isfinite(value):
        return 0
    rounded = float(f"{value:.{digits - 1}e}")
    return max(0, digits - 1 - math.floor(math.log10(abs(rounded))))


def common_decimals(
    values: Iterable[float | None],
    unit: str,
    system: UnitSystem,
    *,
    digits: int = 3,
    small: bool = False,
) -> int:
    """Return the decimals for a row of values, so that the greatest shows its figures.

    >>> common_decimals([4.83, 12.1, None], "mps", UnitSystem.SI)
    1
    """
    shown = [convert(value, unit, system, small=small) for value in values if value is not None]
    greatest = max((abs(value) for value in shown), default=0.0)
    return decimals_of(greatest, digits)


def show(
    value: float | None,
    unit: str,
    system: UnitSystem,
    *,
    digits: int = 3,
    small: bool | None = None,
    signed: bool = False,
    decimals: int | None = None,
) -> str:
    """Return a value as a page shows it, rounded for show, with its unit.

    `small=None` picks the small unit below 1 m (and likewise for Ω, J, areas, volumes); `decimals`
    overrides the significant figures, for a row that keeps one number of decimals.

    >>> show(4.8312, "mps", UnitSystem.SI), show(0.1016, "m", UnitSystem.INCH_POUND)
    ('4.83 m/s', '4.00 in')
    >>> show(None, "kg", UnitSystem.SI)
    'not given'
    """
    if value is None:
        return NOT_GIVEN
    small = small_for([value], unit) if small is None else small
    text = show_bare(
        value, unit, system, digits=digits, small=small, signed=signed, decimals=decimals
    )
    unit_text = display_unit(unit, system, small=small)
    gap = "" if unit_text in ("", "°") else " "
    return f"{text}{gap}{unit_text}"


def show_bare(
    value: float | None,
    unit: str,
    system: UnitSystem,
    *,
    digits: int = 3,
    small: bool | None = None,
    signed: bool = False,
    decimals: int | None = None,
) -> str:
    """Return a value as `show` does but without its unit, for columns that state it once.

    >>> show_bare(-0.2, "s", UnitSystem.SI, signed=True), show_bare(0.2, "s", UnitSystem.SI)
    ('−0.200', '0.200')
    """
    if value is None:
        return NOT_GIVEN
    small = small_for([value], unit) if small is None else small
    shown = convert(value, unit, system, small=small)
    if unit == "" and shown.is_integer() and decimals is None:
        decimals = 0
    elif decimals is None:
        decimals = decimals_of(shown, digits)
        if shown:
            shown = float(f"{shown:.{digits - 1}e}")
    text = f"{abs(shown):.{decimals}f}"
    if float(text) == 0:
        return text
    sign = MINUS if shown < 0 else "+" if signed else ""
    return sign + text
