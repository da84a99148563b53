"""Plan and side drawings: one scale, mirrored robots drawn mirrored, words for who cannot see."""

from __future__ import annotations

import re
from copy import deepcopy
from typing import Any

import pytest

from models.study import parse_study
from models.study.schema import Study
from models.trade.scene import fit_scene
from models.units import UnitSystem
from webapp.shared.drawings.context import drawing_of, small_plans, thumbnails_of
from webapp.shared.drawings.shapes import Shape, View
from webapp.templating import environment


@pytest.fixture
def study(document: dict[str, Any]) -> Study:
    return parse_study(document)


def points(shape: Shape) -> list[tuple[float, float]]:
    pairs = re.findall(r"[ML]([-0-9.]+) ([-0-9.]+)", shape.path)
    return [(float(x), float(y)) for x, y in pairs]


def outlines(view: View, css: str) -> set[tuple[tuple[float, float], ...]]:
    return {tuple(sorted(points(shape))) for shape in view.shapes if css in shape.css.split()}


def mirrored(view: View, css: str) -> set[tuple[tuple[float, float], ...]]:
    return {
        tuple(sorted((round(view.width - x, 1), y) for x, y in points(shape)))
        for shape in view.shapes
        if css in shape.css.split()
    }


def mirror_document(document: dict[str, Any]) -> dict[str, Any]:
    """Left and right exchanged: places, outlines and corners."""
    other = deepcopy(document)
    robot = other["robot"]
    for thing in robot["keepouts"]:
        thing["outline_m"] = [[x, -y] for x, y in reversed(thing["outline_m"])]
    for part in robot["parts"]:
        part["centre_m"][1] = -part["centre_m"][1]
    for candidate in other["candidates"]:
        for body in candidate.get("bodies", []):
            body["outline_m"] = [[x, -y] for x, y in reversed(body["outline_m"])]
        for part in candidate.get("parts", []):
            part["centre_m"][1] = -part["centre_m"][1]
        if corners := candidate.get("modules", {}).get("corners"):
            for end in ("front", "rear"):
                left, right = f"{end}_left", f"{end}_right"
                corners[left], corners[right] = corners[right], corners[left]
    return other


@pytest.mark.parametrize("css", ["drawn-frame", "drawn-module", "drawn-keepout", "drawn-body"])
@pytest.mark.parametrize("place", range(3))
def test_a_mirrored_robot_is_drawn_mirrored(document: dict[str, Any], css: str, place: int) -> None:
    left, right = parse_study(document), parse_study(mirror_document(document))
    one = drawing_of(fit_scene(left, left.candidates[place]), UnitSystem.SI).plan
    other = drawing_of(fit_scene(right, right.candidates[place]), UnitSystem.SI).plan
    assert outlines(one, css) == mirrored(other, css)


def test_left_is_drawn_left_and_front_up(study: Study) -> None:
    scene = fit_scene(study, study.candidate("swerve"))
    plan = drawing_of(scene, UnitSystem.SI).plan
    corner = next(shape for shape in plan.shapes if shape.body.startswith("front-left"))
    rear = next(shape for shape in plan.shapes if shape.body.startswith("rear-right"))
    assert max(x for x, _ in points(corner)) < plan.width / 2 < min(x for x, _ in points(rear))
    assert max(y for _, y in points(corner)) < min(y for _, y in points(rear))


def test_plan_and_side_have_one_scale(study: Study) -> None:
    scene = fit_scene(study, study.candidate("swerve"))
    both = drawing_of(scene, UnitSystem.SI)
    keepout = scene.keepouts[0]
    long = max(p[0] for p in keepout.outline) - min(p[0] for p in keepout.outline)

    def drawn(view: View, axis: int) -> float:
        shape = next(shape for shape in view.shapes if shape.keepout == keepout.name)
        values = [point[axis] for point in points(shape)]
        return (max(values) - min(values)) / long

    assert drawn(both.plan, 1) == pytest.approx(drawn(both.side, 0), rel=0.01)


def test_inverted_modules_have_an_inner_line_and_the_word(study: Study) -> None:
    plan = drawing_of(fit_scene(study, study.candidate("swerve")), UnitSystem.SI).plan
    inverted = [shape for shape in plan.shapes if shape.css == "drawn-inverted"]
    assert len(inverted) == 2
    assert [label.text for label in plan.labels].count("inverted") == 2


def test_an_overlap_is_filled_and_named(study: Study) -> None:
    plan = drawing_of(fit_scene(study, study.candidate("swerve-tall")), UnitSystem.SI).plan
    filled = [shape for shape in plan.shapes if shape.css == "drawn-overlap"]
    assert {shape.title for shape in filled} == {
        "rear-left motors overlaps gripper sweep",
        "rear-right motors overlaps gripper sweep",
    }
    assert "✕ overlap" in [label.text for label in plan.labels]
    assert "Conflicts: rear-left motors and gripper sweep" in plan.description


@pytest.mark.parametrize(
    ("system", "words"),
    [(UnitSystem.SI, "frame 660 mm"), (UnitSystem.INCH_POUND, "frame 26.0 in")],
)
def test_dimensions_follow_the_units_of_the_page(
    study: Study, system: UnitSystem, words: str
) -> None:
    plan = drawing_of(fit_scene(study, study.candidate("swerve")), system).plan
    assert words in [label.text for label in plan.labels]


def test_a_measure_line_joins_the_nearest_points(study: Study) -> None:
    scene = fit_scene(study, study.candidate("swerve"))
    row, gap = next((i, gap) for i, gap in enumerate(scene.gaps) if gap.keepout == "lift foot")
    plan = drawing_of(scene, UnitSystem.SI, rows=[(row, gap)], lit=gap).plan
    assert [(m.row, m.label.text, m.lit) for m in plan.measures] == [(row, "25.0 mm", True)]
    lit = {shape.body or shape.keepout for shape in plan.shapes if shape.lit}
    assert lit == {gap.body, "lift foot"}


def test_small_plans_share_one_scale(study: Study) -> None:
    keys = [candidate.key for candidate in study.candidates]
    plans = thumbnails_of(study, keys, "hash of this test")
    assert {(plan.width, plan.height) for plan in plans.values()} == {
        (plans[keys[0]].width, plans[keys[0]].height)
    }
    assert plans["swerve-tall"].title.endswith("2 conflicts")
    assert plans["mecanum"].title.endswith("the fit is not known")
    assert small_plans({}) == {}


def test_a_drawing_has_a_title_and_a_description_and_no_inline_style(study: Study) -> None:
    view = drawing_of(fit_scene(study, study.candidate("swerve")), UnitSystem.SI).plan
    macros = environment(UnitSystem.SI).get_template("shared/drawings/drawing.html").module
    text = macros.drawing(view, "plan")  # type: ignore[attr-defined]
    assert 'aria-labelledby="plan-title plan-text"' in text
    assert '<title id="plan-title">Plan of Four steered modules, stowed, front up</title>' in text
    assert "Centre of gravity" in text
    assert "style=" not in text
