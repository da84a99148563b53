"""What the plan and side drawings show, against the places in the study file."""

from __future__ import annotations

from typing import Any

import pytest
import shapely

from models.errors import NotFoundError
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.scene import Scene, fit_scene


def scene_of(study: Study, key: str, pose: str | None = None) -> Scene:
    return fit_scene(study, study.candidate(key), pose)


class TestThings:
    def test_the_first_pose_is_the_travelling_one(self, reference: Study) -> None:
        assert scene_of(reference, "tank").pose == "stowed"

    def test_an_unknown_pose_is_refused(self, reference: Study) -> None:
        with pytest.raises(NotFoundError, match="flying"):
            scene_of(reference, "tank", "flying")

    def test_modules_are_mirrored_into_their_corners(self, reference: Study) -> None:
        bodies = {body.name: body for body in scene_of(reference, "swerve").bodies}
        rear_right = bodies["rear-right plate"]
        assert (rear_right.corner, rear_right.orientation) == ("rear_right", "inverted")
        # Wheel at (-0.275, -0.255); the inverted plate reaches 0.13 m inwards, 0.06 m outwards.
        bounds = shapely.Polygon(rear_right.outline).bounds
        assert bounds == pytest.approx((-0.335, -0.315, -0.145, -0.125))
        assert "rear-right motors" not in bodies
        assert "front-left motors" in bodies

    def test_a_tank_has_its_wheels_on_three_axles(self, reference: Study) -> None:
        wheels = scene_of(reference, "tank").wheels
        assert [wheel.centre[0] for wheel in wheels[::2]] == pytest.approx([0.28, 0.0, -0.28])
        assert [wheel.centre[1] for wheel in wheels] == pytest.approx([0.3, -0.3] * 3)
        assert [wheel.bottom_m for wheel in wheels[::2]] == [0.003, 0.0, 0.003]

    def test_wheels_of_an_omni_base_stand_crossed(self, reference_document: dict[str, Any]) -> None:
        reference_document["candidates"][3]["layout"] = "omni"
        wheels = scene_of(parse_study(reference_document), "mecanum").wheels
        assert [wheel.angle_deg for wheel in wheels] == [-45, 45, 45, -45]

    def test_a_pose_moves_parts_and_centre_of_gravity(
        self, reference: Study, figures: dict[str, dict[str, Any]]
    ) -> None:
        stowed, raised = (scene_of(reference, "tank", pose) for pose in ("stowed", "raised"))
        assert stowed.cg_m == pytest.approx(
            [figures["tank"][f"cg_{axis}_m"] for axis in "xyz"], rel=1e-9
        )
        assert raised.cg_m[2] > stowed.cg_m[2]
        assert [part.name for part in raised.parts if part.moved] == ["lift", "arm and gripper"]
        assert raised.height_m == pytest.approx(0.6 + 0.75 + 0.1)

    def test_the_clearance_outline_keeps_the_clearance(self, reference: Study) -> None:
        for keepout in scene_of(reference, "tank").keepouts:
            grown = shapely.Polygon(keepout.clearance_outline)
            inner = shapely.Polygon(keepout.outline)
            assert grown.exterior.distance(inner) == pytest.approx(keepout.clearance_m, rel=0.02)

    def test_everything_lies_inside_the_extent(self, reference: Study) -> None:
        for candidate in reference.candidates:
            scene = fit_scene(reference, candidate, "raised")
            things = [*scene.wheels, *scene.bodies, *scene.keepouts, *scene.parts]
            for thing in things:
                for x, y in thing.outline:
                    assert scene.lowest[0] <= x <= scene.highest[0]
                    assert scene.lowest[1] <= y <= scene.highest[1]
                assert scene.lowest[2] <= thing.bottom_m <= thing.top_m <= scene.highest[2]


class TestGaps:
    def test_are_listed_worst_first(self, reference: Study) -> None:
        gaps = scene_of(reference, "swerve").gaps
        assert len(gaps) == 6 * 3
        assert [gap.margin_m for gap in gaps] == sorted(gap.margin_m for gap in gaps)

    def test_a_vertical_gap_is_measured_upright(self, reference: Study) -> None:
        gap = scene_of(reference, "swerve").gaps[0]
        assert (gap.body, gap.keepout) == ("rear-left plate", "gripper sweep")
        assert gap.gap_m == pytest.approx(0.010)
        assert gap.from_point[:2] == gap.to_point[:2]
        assert (gap.from_point[2], gap.to_point[2]) == pytest.approx((0.12, 0.13))

    def test_the_measure_line_is_as_long_as_the_gap(self, reference: Study) -> None:
        for key in ("tank", "swerve", "swerve-tall"):
            for gap in scene_of(reference, key).gaps:
                ends = zip(gap.from_point, gap.to_point, strict=True)
                length = sum((a - b) ** 2 for a, b in ends) ** 0.5
                assert length == pytest.approx(gap.gap_m, abs=1e-9)

    def test_a_conflict_shows_what_is_shared_and_the_way_out(self, reference: Study) -> None:
        scene = scene_of(reference, "swerve-tall")
        gap = scene.gaps[0]
        assert gap.conflict
        area = sum(shapely.Polygon(outline).area for outline in gap.overlap_outlines)
        assert area * 0.06 == pytest.approx(gap.overlap_m3)
        assert (gap.escape_towards, gap.escape_m) == ("forward", pytest.approx(0.071))
        assert {body.name for body in scene.bodies if body.conflict} == {
            "rear-left motors",
            "rear-right motors",
        }
        assert [one.name for one in scene.keepouts if one.conflict] == ["gripper sweep"]

    def test_without_bodies_the_fit_is_not_known(self, reference: Study) -> None:
        scene = scene_of(reference, "mecanum")
        assert not scene.fit_known
        assert scene.gaps == ()


class TestBalance:
    def test_the_support_is_the_outline_of_the_wheels(self, reference: Study) -> None:
        scene = scene_of(reference, "tank")
        assert shapely.Polygon(scene.support).area == pytest.approx(0.56 * 0.6)
        assert scene.stands

    def test_an_inset_corner_cuts_the_support(self, reference_document: dict[str, Any]) -> None:
        corners = reference_document["candidates"][1]["modules"]["corners"]
        corners["front_left"]["inset_m"] = [0.05, 0.04]
        study = parse_study(reference_document)
        assert (0.225, 0.215) in [
            (round(x, 6), round(y, 6)) for x, y in scene_of(study, "swerve").support
        ]

    def test_a_robot_that_topples_does_not_stand(self, reference_document: dict[str, Any]) -> None:
        reference_document["robot"]["poses"][1]["offsets"]["lift"] = [-2.5, 0, 0]
        study = parse_study(reference_document)
        assert scene_of(study, "tank", "stowed").stands
        assert not scene_of(study, "tank", "raised").stands
