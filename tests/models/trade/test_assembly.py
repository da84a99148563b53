"""Parts, bodies and limits as a study lays them out."""

from __future__ import annotations

from typing import Any

import pytest

from models.study.reader import parse_study
from models.study.schema import Candidate, Study
from models.trade.assembly import (
    bodies_of,
    corner_wheels,
    fit_table,
    height_in_pose,
    keepouts_apply,
    keepouts_in,
    outside_frame,
    part_table,
    posed_centres,
    posed_masses,
    poses_of,
    wheel_contacts,
)


def test_parts_are_the_robots_then_the_candidates(reference: Study) -> None:
    table = part_table(reference, reference.candidate("swerve"))
    assert table.names[-2:] == ("modules", "frame")
    assert table.of_robot.tolist() == [True] * 5 + [False] * 2
    assert table.masses[5] == 12.0


def test_a_pose_moves_only_the_parts_that_it_names(reference: Study) -> None:
    table = part_table(reference, reference.baseline)
    stowed, raised = posed_centres(table, reference.robot.poses)
    assert (raised - stowed)[0].tolist() == pytest.approx([0, 0, 0.35])
    assert (raised - stowed)[2:].any() == False  # noqa: E712  # a numpy truth


def test_insets_move_wheel_and_module_alike(reference_document: dict[str, Any]) -> None:
    plain = parse_study(reference_document)
    corners = reference_document["candidates"][1]["modules"]["corners"]
    corners["rear_left"]["inset_m"] = [0.03, 0.02]
    moved = parse_study(reference_document)
    before, after = (corner_wheels(study.candidate("swerve")) for study in (plain, moved))
    assert (after - before)[2] == pytest.approx([0.03, -0.02])
    plates = [
        {body.name: body for body in bodies_of(study, study.candidate("swerve"))}
        for study in (plain, moved)
    ]
    shift = [
        now - then
        for now, then in zip(
            plates[1]["rear-left plate"].outline[0],
            plates[0]["rear-left plate"].outline[0],
            strict=True,
        )
    ]
    assert shift == pytest.approx([0.03, -0.02])
    assert plates[0]["rear-right plate"] == plates[1]["rear-right plate"]


def test_a_tank_stands_on_all_its_wheels(reference: Study) -> None:
    assert len(wheel_contacts(reference.candidate("tank"))) == 6
    assert len(wheel_contacts(reference.candidate("mecanum"))) == 4


def test_no_bodies_or_no_keepouts_leave_the_fit_unknown(
    reference_document: dict[str, Any],
) -> None:
    study = parse_study(reference_document)
    assert fit_table(study, study.candidate("mecanum")) is None
    reference_document["robot"]["keepouts"] = []
    empty = parse_study(reference_document)
    assert fit_table(empty, empty.candidate("swerve")) is None


def test_height_counts_parts_bodies_and_wheels_but_no_keepouts(
    reference_document: dict[str, Any],
) -> None:
    study = parse_study(reference_document)
    stowed = study.robot.poses[0]
    assert height_in_pose(study, study.candidate("tank"), stowed) == pytest.approx(1.05)
    reference_document["candidates"][1]["bodies"] = [
        {
            "name": "mast",
            "outline_m": [[0.3, 0], [0.31, 0], [0.31, 0.01]],
            "bottom_m": 0.1,
            "top_m": 1.3,
        }
    ]
    taller = parse_study(reference_document)
    assert height_in_pose(taller, taller.candidate("swerve"), stowed) == pytest.approx(1.3)


def test_what_reaches_out_of_the_frame_is_named(reference_document: dict[str, Any]) -> None:
    assert (
        outside_frame(parse_study(reference_document), parse_study(reference_document).baseline)
        == ()
    )
    reference_document["candidates"][1]["frame"]["length_m"] = 0.66
    study = parse_study(reference_document)
    beyond = dict(outside_frame(study, study.candidate("swerve")))
    assert beyond["front-left plate"] == pytest.approx(0.005)
    assert len(beyond) == 4


def with_poses(document: dict[str, Any], *poses: str) -> Study:
    document["robot"]["keepouts"][0]["poses"] = list(poses)
    return parse_study(document)


def test_a_keepout_counts_in_every_pose_unless_it_names_some(
    reference_document: dict[str, Any],
) -> None:
    study = with_poses(reference_document, "raised")
    stowed, raised = study.robot.poses
    first = study.robot.keepouts[0]
    assert poses_of(study, first) == ("raised",)
    assert first not in keepouts_in(study, stowed)
    assert keepouts_in(study, raised) == keepouts_in(study, None) == study.robot.keepouts
    assert keepouts_apply(study)[0].tolist() == [False, True]
    assert keepouts_apply(study)[1:].all()


def test_a_conflict_in_any_pose_makes_it_not_fit(reference_document: dict[str, Any]) -> None:
    plain = fit_table(*pair(parse_study(reference_document)))
    named = fit_table(*pair(with_poses(reference_document, "raised")))
    assert plain is not None and named is not None
    assert (named.clearances.conflict == plain.clearances.conflict).all()
    assert named.poses[0] == ("raised",)


def pair(study: Study) -> tuple[Study, Candidate]:
    return study, study.candidate("swerve-tall")


def test_loads_weigh_in_their_own_pose_only(reference_document: dict[str, Any]) -> None:
    reference_document["robot"]["poses"][1]["loads"] = [
        {"name": "ball", "mass_kg": 0.3, "centre_m": [0.4, 0, 0.2]}
    ]
    study = parse_study(reference_document)
    found = posed_masses(study, study.baseline, study.robot.poses)
    assert found.masses[:, -1].tolist() == [0.0, 0.3]
    assert found.centres[1, -1].tolist() == [0.4, 0, 0.2]
    assert found.sizes.shape == (found.masses.shape[1], 3)
