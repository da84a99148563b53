"""What a study may say about poses of keep-outs, loads, bumpers and the platform."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from models.errors import StudyRefusedError
from models.study.reader import parse_study
from models.study.sections import join_sections, split_sections

BOX = {"outline_m": [[0, 0], [0.1, 0], [0.1, 0.1]], "bottom_m": 0, "top_m": 0.1}
Document = dict[str, Any]


def refused(document: Document) -> list[str]:
    with pytest.raises(StudyRefusedError) as error:
        parse_study(document)
    return [fault.place for fault in error.value.faults]


def keepout(*poses: str) -> Callable[[Document], None]:
    def change(document: Document) -> None:
        document["robot"]["keepouts"] = [{"name": "arm", "poses": list(poses), **BOX}]

    return change


def loads(*names: str) -> Callable[[Document], None]:
    def change(document: Document) -> None:
        document["robot"]["poses"][0]["loads"] = [
            {"name": name, "mass_kg": 1, "centre_m": [0, 0, 0.1]} for name in names
        ]

    return change


def given(section: str, **values: Any) -> Callable[[Document], None]:
    return lambda document: document.setdefault(section, {}).update(values)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (keepout("waving"), "robot.keepouts[0].poses[0]"),
        (keepout("stowed", "stowed"), "robot.keepouts[0].poses[1]"),
        (loads("ball", "ball"), "robot.poses[0].loads[1].name"),
        (given("rules", bumper_bottom_m=0.2, bumper_top_m=0.1), "rules.bumper_top_m"),
        (given("platform", mass_kg=10), "platform.length_m"),
        (
            given("platform", length_m=2, partners=[{"name": "P", "mass_kg": 50, "at_m": 1.1}]),
            "platform.partners[0].at_m",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(
    document: Document, change: Callable[[Document], None], place: str
) -> None:
    change(document)
    assert refused(document) == [place]


def test_what_can_be_is_read(document: Document) -> None:
    keepout("stowed")(document)
    loads("ball", "crate")(document)
    given("rules", bumper_thickness_m="3.25 in", bumper_bottom_m=0.1, bumper_top_m=0.2)(document)
    given("platform", length_m=2.4, hold_moment_nm=12)(document)
    document["candidates"][0]["frame"]["belly_m"] = "35 mm"
    study = parse_study(document)
    assert study.robot.keepouts[0].poses == ("stowed",)
    assert study.robot.keepouts[0].swept is False
    assert [load.name for load in study.robot.poses[0].loads] == ["ball", "crate"]
    assert study.rules.bumper_thickness_m == pytest.approx(0.08255)
    assert study.platform is not None and study.platform.partners == ()
    assert study.candidates[0].frame.belly_m == pytest.approx(0.035)


def test_a_load_may_not_make_the_robot_fall_over(document: Document) -> None:
    loads("anvil")(document)
    load = document["robot"]["poses"][0]["loads"][0]
    load.update(mass_kg=200, centre_m=[0.8, 0, 0.2])
    assert set(refused(document)) == {"candidates[0].parts", "candidates[1].parts"}


def test_the_platform_is_a_section_of_its_own(document: Document) -> None:
    document["platform"] = {"length_m": 2}
    sections = split_sections(document)
    assert sections["platform"] == {"length_m": 2}
    assert join_sections(sections)["platform"] == {"length_m": 2}
