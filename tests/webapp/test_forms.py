"""The codec between a form and a section: what is typed is kept, what is not stays as it is."""

from __future__ import annotations

import random
import re
from typing import Any

import pytest
from fastapi import FastAPI

from models.errors import Fault
from models.services import load_study
from models.units import UnitSystem
from webapp.forms import (
    MISSING,
    join_name,
    name_of_fault,
    read_typed,
    rebuild,
    row_origins,
    split_name,
    without_row,
)

CANDIDATE = "candidates[]"


def typed_into(present: Any, *fields: tuple[str, str], system: UnitSystem = UnitSystem.SI) -> Any:
    return rebuild(read_typed(fields), present, CANDIDATE, system)


@pytest.mark.parametrize(
    ("text", "stored"),
    [
        ("101.6", "101.6 mm"),
        (" 101.6 ", "101.6 mm"),
        ("4 in", "4 in"),
        ("0.1016 m", "0.1016 m"),
        ("101,6", "101,6"),
        ("rubbish", "rubbish"),
        ("nan", "nan"),
        ("1e999", "1e999"),
        ("\N{MINUS SIGN}5", "-5 mm"),
        ("9" * 60, "9" * 60),
    ],
)
def test_a_length_is_kept_as_typed_in_the_unit_beside_its_box(text: str, stored: str) -> None:
    assert typed_into({}, ("wheels.diameter_m", text)) == {"wheels": {"diameter_m": stored}}


def test_a_bare_number_in_an_inch_pound_form_is_in_inches() -> None:
    built = typed_into({}, ("wheels.diameter_m", "4"), system=UnitSystem.INCH_POUND)
    assert built == {"wheels": {"diameter_m": "4 in"}}


@pytest.mark.parametrize(("text", "stored"), [("90", 90), ("6.5", 6.5), ("6e1", 60.0)])
def test_a_number_in_the_stored_unit_becomes_a_number(text: str, stored: float) -> None:
    built = typed_into({}, ("drive.stator_limit_a", text))["drive"]["stator_limit_a"]
    assert built == stored
    assert type(built) is type(stored)


@pytest.mark.parametrize("system", UnitSystem)
def test_a_box_left_as_shown_keeps_the_value_to_its_last_digit(system: UnitSystem) -> None:
    from webapp.shared.inputs import Sheet

    present = {"wheels": {"wheelbase_m": 0.123456789, "track_m": "22.8 in", "grip": 1.1}}
    sheet = Sheet(present, CANDIDATE, system)
    names = [f"wheels.{name}" for name in present["wheels"]]
    shown = [(name, sheet.box(name).text) for name in names]
    assert typed_into(present, *shown, system=system) == present


def test_what_the_form_does_not_mention_stays() -> None:
    present = {"tasks": [{"key": "weld"}], "drive": {"motor": "a", "ratio": 6.5}}
    built = typed_into(present, ("drive.ratio", "7"))
    assert built == {"tasks": [{"key": "weld"}], "drive": {"motor": "a", "ratio": 7}}
    assert present["drive"]["ratio"] == 6.5


def test_an_emptied_field_is_taken_out_and_does_not_come_back() -> None:
    present = {"drive": {"ratio": 6.5, "stator_limit_a": 90}, "notes": "old"}
    built = typed_into(present, ("drive.stator_limit_a", ""), ("notes", ""))
    assert built == {"drive": {"ratio": 6.5}}


def test_a_range_and_its_source_make_an_estimate() -> None:
    fields = [("wheels.grip", "1.1"), ("wheels.grip:low", "0.9"), ("wheels.grip:high", "1.3"),
              ("wheels.grip:source", "assumed"), ("wheels.grip:note", "carpet")]  # fmt: skip
    built = typed_into({"wheels": {"grip": 1.0}}, *fields)
    assert built["wheels"]["grip"] == {
        "value": 1.1, "low": 0.9, "high": 1.3, "source": "assumed", "note": "carpet",
    }  # fmt: skip


def test_an_estimate_with_all_its_words_taken_out_is_a_plain_number() -> None:
    present = {"wheels": {"grip": {"value": 1.1, "low": 0.9, "source": "assumed"}}}
    parts = [(f"wheels.grip:{part}", "") for part in ("low", "high", "source", "note")]
    assert typed_into(present, ("wheels.grip", "1.1"), *parts) == {"wheels": {"grip": 1.1}}


def test_a_table_that_shows_no_range_keeps_it() -> None:
    present = {"wheels": {"grip": {"value": 1.1, "low": 0.9, "source": "assumed"}}}
    built = typed_into(present, ("wheels.grip", "1.2"))
    assert built["wheels"]["grip"] == {"value": 1.2, "low": 0.9, "source": "assumed"}


def test_rows_keep_what_the_form_does_not_show_when_another_is_taken_out() -> None:
    present = {"parts": [{"name": "a", "size_m": [1, 1, 1]}, {"name": "b", "size_m": [2, 2, 2]}]}
    fields = [("parts:rows", "1"), ("parts.0:was", "0"), ("parts.0.name", "a"),
              ("parts.1:was", "1"), ("parts.1.name", "b")]  # fmt: skip
    typed = read_typed(fields)
    assert without_row(typed, ("parts", 0))
    assert row_origins(typed) == {"parts.0": "1"}
    assert rebuild(typed, present, CANDIDATE, UnitSystem.SI) == {"parts": [present["parts"][1]]}


def test_the_last_row_can_be_taken_out() -> None:
    present = {"bodies": [{"name": "gearbox"}]}
    assert typed_into(present, ("bodies:rows", "1")) == {"bodies": []}
    assert typed_into({}, ("bodies:rows", "1")) == {}


def test_an_unchecked_box_is_no_and_a_default_is_left_unsaid() -> None:
    fields = [("parts:rows", "1"), ("parts.0:was", "0"), ("parts.0.exempt", "no")]
    assert typed_into({"parts": [{"exempt": True}]}, *fields) == {"parts": [{"exempt": False}]}
    assert typed_into({"parts": [{}]}, *fields) == {"parts": [{}]}
    fields.append(("parts.0.exempt", "yes"))
    assert typed_into({"parts": [{}]}, *fields) == {"parts": [{"exempt": True}]}


RECTANGLE = [[0.03, 0.26], [-0.12, 0.26], [-0.12, -0.26], [0.03, -0.26]]


def outline(**sides: str) -> list[tuple[str, str]]:
    return [(f"bodies.0.outline_m:{side}", text) for side, text in sides.items()]


def test_a_rectangle_left_as_shown_keeps_its_corners_in_their_order() -> None:
    present = {"bodies": [{"outline_m": RECTANGLE}]}
    fields = outline(back="-120", front="30", right="-260", left="260")
    built = typed_into(present, ("bodies:rows", "1"), ("bodies.0:was", "0"), *fields)
    assert built == present


def test_a_rectangle_is_typed_by_its_sides() -> None:
    fields = outline(back="-100", front="5 in", right="x", left="")
    built = typed_into({}, ("bodies:rows", "1"), *fields)["bodies"][0]["outline_m"]
    assert built == [["-100 mm", "x"], ["5 in", "x"], ["5 in", ""], ["-100 mm", ""]]


def test_other_outlines_are_typed_by_their_corners() -> None:
    fields = outline(corners="0, 0; 100 0\n 0, 4 in")
    built = typed_into({}, ("bodies:rows", "1"), *fields)["bodies"][0]["outline_m"]
    assert built == [["0 mm", "0 mm"], ["100 mm", "0 mm"], ["0 mm", "4 in"]]


@pytest.mark.parametrize("path", [("offsets", "arm no. 2: left"), ("motors", "775"), ("a%2Eb",)])
def test_any_key_survives_in_a_name(path: tuple[str, ...]) -> None:
    assert split_name(join_name(path)) == (path, "")


@pytest.mark.parametrize("name", ["", ".", "..", ":", ":x", "a" * 5000, "1.2.3", "." * 5000,
                                  "parts.99999.name", "__proto__.x", "parts.0.0.0.0"])  # fmt: skip
def test_a_hostile_name_builds_something_and_raises_nothing(name: str) -> None:
    built = rebuild(read_typed([(name, "x")]), {"name": "b"}, CANDIDATE, UnitSystem.SI)
    assert built is MISSING or isinstance(built, dict | list | str)


@pytest.mark.parametrize(
    ("place", "name"),
    [
        ("candidates[1].drive.ratio", "drive.ratio"),
        ("candidates[1].wheels.grip.low", "wheels.grip:low"),
        ("candidates[1].parts[0].centre_m", "parts.0.centre_m.0"),
        ("candidates[1].parts[0].centre_m[2]", "parts.0.centre_m.2"),
        ("candidates[1].parts[0]", "parts.0.name"),
        ("candidates[1].bodies[0].outline_m[2][1]", "bodies.0.outline_m:back"),
        ("candidates[0].drive.ratio", None),
        ("robot.parts[0]", None),
    ],
)
def test_a_fault_finds_its_field(place: str, name: str | None) -> None:
    names = ["drive.ratio", "wheels.grip", "wheels.grip:low", "parts:rows", "parts.0:was",
             "parts.0.name", "parts.0.centre_m.0", "parts.0.centre_m.1", "parts.0.centre_m.2",
             "bodies.0.outline_m:back", "bodies.0.outline_m:front"]  # fmt: skip
    assert name_of_fault(Fault(place, "wrong"), ("candidates", 1), names) == name


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("page", ["candidates/swerve", "robot", "givens"])
def test_a_form_in_disorder_is_answered_and_stores_nothing_it_refuses(
    app: FastAPI, sheets: Any, study_id: str, page: str, seed: int
) -> None:
    chance = random.Random(seed)
    address = f"/studies/{study_id}/{page}"
    fields = sheets.open(address)
    kept = {"csrf_token", "base_revision"}
    texts = [
        "",
        "0",
        "-1",
        "1e30",
        "NaN",
        "x" * 300,
        "0,5",
        "4 in",
        "yes",
        "\x00",
        "\N{GRINNING FACE}",
    ]
    for _ in range(25):
        index = chance.randrange(len(fields))
        name, text = fields[index]
        if name in kept:
            continue
        renamed = re.sub(r"\d+", lambda found: str(int(found[0]) + chance.choice([0, 3])), name)
        renamed = chance.choice([name, renamed, f"{name}.0", name.partition(".")[2] or name])
        fields[index] = (renamed, chance.choice([*texts, text]))
    rows = ["", "add:parts", "add:routes.5.legs", "remove:routes.0", "add:robot.poses.7.moves"]
    answer = sheets.post(address, fields, row=chance.choice(rows))
    assert answer.status_code in {200, 303, 409, 422}
    live = sheets.post(address, fields, to=f"{address}/live")
    assert live.status_code == 200
    load_study(app.state.store, study_id)
