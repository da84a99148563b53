"""Units as typed and as shown."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.errors import UnitError
from models.units import (
    UNIT_KEYS,
    UnitSystem,
    common_decimals,
    convert,
    display_unit,
    parse_number,
    show,
    show_bare,
    small_for,
)

SI, INCH_POUND = UnitSystem.SI, UnitSystem.INCH_POUND

# Published: 1 in = 25.4 mm, 1 lb = 0.45359237 kg (international yard and pound agreement, 1959);
# 1 lbf = 4.4482216152605 N and the rest follow with standard gravity 9.80665 m/s² (NIST SP 811,
# appendix B.8, digits recalled, so memory).
TYPED = [
    ("4 in", "m", 0.1016),
    ('4"', "m", 0.1016),
    ("101.6 mm", "m", 0.1016),
    ("10.16cm", "m", 0.1016),
    ("5 ft 3 in", "m", 1.6002),
    ("5' 3\"", "m", 1.6002),
    ("2 3/4 in", "m", 0.06985),
    ("1/8 in", "m", 0.003175),
    ("-12 mm", "m", -0.012),
    ("−12 mm", "m", -0.012),
    ("0.1016", "m", 0.1016),
    (" .5 ", "m", 0.5),
    ("125 lb", "kg", 56.69904625),
    ("56.7 KG", "kg", 56.7),
    ("15.1 ft/s", "mps", 4.60248),
    ("10 mph", "mps", 4.4704),
    ("18 km/h", "mps", 5.0),
    ("1 g", "mps2", 9.80665),
    ("32.2 ft/s²", "mps2", 9.81456),
    ("100 lbf", "n", 444.82216152605),
    ("2.6 N·m", "nm", 2.6),
    ("10 lbf·in", "nm", 1.1298482902761668),
    ("10 in-lb", "nm", 1.1298482902761668),
    ("18 mΩ", "ohm", 0.018),
    ("18 mohm", "ohm", 0.018),
    ("0.6 kg·cm²", "kgm2", 6e-5),
    ("6e-5", "kgm2", 6e-5),
    ("1 lb in^2", "kgm2", 2.9263965e-4),
    ("628.3185307179586 rad/s", "rpm", 6000.0),
    ("90°", "deg", 90.0),
    ("3.141592653589793 rad", "deg", 180.0),
    ("88 %", "", 0.88),
    ("1 Wh", "j", 3600.0),
    ("18000 mAh", "ah", 18.0),
    ("90 min", "h", 1.5),
    ("2 weeks", "d", 14.0),
    ("68 °F", "c", 20.0),
    ("2.7 g/cm3", "kgm3", 2700.0),
]


@pytest.mark.parametrize(("text", "unit", "expected"), TYPED)
def test_a_unit_may_be_typed(text: str, unit: str, expected: float) -> None:
    assert parse_number(text, unit) == pytest.approx(expected, rel=1e-7)


def test_a_bare_number_takes_the_unit_of_the_form() -> None:
    assert parse_number("4", "m", default_unit_text="in") == pytest.approx(0.1016)
    assert parse_number("100 mm", "m", default_unit_text="in") == pytest.approx(0.1)


REFUSED = [
    ("0,0508", "m", "type 0.0508"),
    ("3,5 mm", "m", "type 3.5 mm"),
    ("1,234", "kg", "1.234 for a decimal or 1234 for thousands"),
    ("1,234.5", "kg", "one decimal point"),
    ("", "m", "Nothing is typed"),
    ("nan", "m", "is not a length"),
    ("inf", "v", "is not a voltage"),
    ("1e400", "m", "exponents go from"),
    ("9**9**9", "m", "is not a length"),
    ("4 kg", "m", "“kg” is not a length; type m, mm, in or ft"),
    ("4 m", "kg", "“m” is not a mass"),
    ("1 MΩ", "ohm", "is not a resistance"),
    ("5 ft 3", "m", "is not a length"),
    ("0x10", "m", "is not a length"),
    ("1_000", "m", "is not a length"),
    ("١٢", "m", "is not a length"),
    ("3/0 in", "m", "divides by zero"),
    ("7" * 60, "m", "too long"),
    ("1" * 100_000, "m", "too long"),
    ("__import__('os')", "m", "is not a length"),
]


@pytest.mark.parametrize(("text", "unit", "words"), REFUSED)
def test_what_cannot_be_read_is_refused_with_what_to_type(text: str, unit: str, words: str) -> None:
    with pytest.raises(UnitError) as refusal:
        parse_number(text, unit)
    assert words in str(refusal.value)
    assert len(str(refusal.value)) < 200


def test_the_offered_fix_of_a_decimal_comma_is_taken() -> None:
    with pytest.raises(UnitError, match="decimal comma") as refusal:
        parse_number("3,5 mm", "m")
    offered = str(refusal.value).rpartition("type ")[2].rstrip(".")
    assert parse_number(offered, "m") == pytest.approx(0.0035)


SHOWN = [
    (4.8312, "mps", SI, "4.83 m/s"),
    (4.8312, "mps", INCH_POUND, "15.9 ft/s"),
    (0.1016, "m", SI, "102 mm"),
    (0.1016, "m", INCH_POUND, "4.00 in"),
    (3.05, "m", SI, "3.05 m"),
    (3.05, "m", INCH_POUND, "10.0 ft"),
    (-0.006, "m", SI, "−6.00 mm"),
    (56.69904625, "kg", INCH_POUND, "125 lb"),
    (444.822, "n", INCH_POUND, "100 lbf"),
    (1234.0, "n", SI, "1230 N"),
    (0.018, "ohm", INCH_POUND, "18.0 mΩ"),
    (12_345.0, "j", SI, "12.3 kJ"),
    (34.5, "deg", SI, "34.5°"),
    (9.996, "v", SI, "10.0 V"),
    (6.7460, "", SI, "6.75"),
    (4.0, "", SI, "4"),
    (366.0, "", SI, "366"),
    (0.0003, "m3", SI, "300 cm³"),
    (20.0, "c", INCH_POUND, "68.0 °F"),
    (0.0, "m", SI, "0 mm"),
    (None, "kg", SI, "not given"),
]


@pytest.mark.parametrize(("value", "unit", "system", "expected"), SHOWN)
def test_a_value_is_shown_with_three_figures_and_its_unit(
    value: float | None, unit: str, system: UnitSystem, expected: str
) -> None:
    assert show(value, unit, system) == expected


def test_signs_are_shown_on_request_and_never_on_zero() -> None:
    assert show(0.2, "s", SI, signed=True, digits=2) == "+0.20 s"
    assert show(-0.2, "s", SI, signed=True, digits=2) == "−0.20 s"
    assert show(-0.0001, "s", SI, decimals=2) == "0.00 s"


def test_a_row_keeps_its_decimals() -> None:
    row = [4.83, 12.14, None]
    decimals = common_decimals(row, "mps", SI)
    assert [show_bare(value, "mps", SI, decimals=decimals) for value in row] == [
        "4.8",
        "12.1",
        "not given",
    ]


def test_a_row_is_small_only_if_all_of_it_is() -> None:
    assert small_for([0.2, 0.9], "m")
    assert not small_for([0.2, 1.1], "m")
    assert not small_for([0.2], "s")


@given(
    value=st.floats(min_value=1e-6, max_value=1e6),
    unit=st.sampled_from([key for key in UNIT_KEYS if key not in ("", "c")]),
    system=st.sampled_from(UnitSystem),
    small=st.booleans(),
)
def test_what_is_shown_can_be_typed_again(
    value: float, unit: str, system: UnitSystem, small: bool
) -> None:
    shown = f"{convert(value, unit, system, small=small):.12g} "
    text = shown + display_unit(unit, system, small=small)
    assert parse_number(text, unit) == pytest.approx(value, rel=1e-9)


@given(text=st.text(max_size=60), unit=st.sampled_from(UNIT_KEYS))
def test_any_text_is_read_or_refused(text: str, unit: str) -> None:
    try:
        value = parse_number(text, unit)
    except UnitError:
        return
    assert math.isfinite(value)
