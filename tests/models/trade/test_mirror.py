"""A study mirrored left to right has the same figures, the centre of gravity on the other side."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study

SWAPPED = {"left": "right", "right": "left"}


def _flip(points: list[list[float]]) -> list[list[float]]:
    return [[point[0], -point[1], *point[2:]] for point in points]


def _mirrored(document: dict[str, Any]) -> dict[str, Any]:
    study = deepcopy(document)
    parts = [*study["robot"]["parts"], *(p for c in study["candidates"] for p in c["parts"])]
    for part in parts:
        part["centre_m"] = _flip([part["centre_m"]])[0]
    for pose in study["robot"]["poses"]:
        pose["offsets"] = {name: _flip([by])[0] for name, by in pose["offsets"].items()}
    bodies = [body for candidate in study["candidates"] for body in candidate.get("bodies", [])]
    for prism in [*study["robot"]["keepouts"], *bodies]:
        prism["outline_m"] = _flip(prism["outline_m"])
    for candidate in study["candidates"]:
        if "modules" in candidate:
            corners = candidate["modules"]["corners"]
            candidate["modules"]["corners"] = {
                f"{end}_{SWAPPED[side]}": corners[f"{end}_{side}"]
                for end in ("front", "rear")
                for side in ("left", "right")
            }
    return study


@pytest.fixture
def lopsided(reference_document: dict[str, Any]) -> dict[str, Any]:
    """The reference study with everything a little to one side."""
    study = reference_document
    study["robot"]["parts"][0]["centre_m"][1] = 0.06
    study["robot"]["poses"][1]["offsets"]["lift"] = [0.02, 0.05, 0.35]
    study["robot"]["keepouts"][1]["outline_m"][0][1] = 0.21
    study["candidates"][1]["modules"]["corners"]["front_left"]["inset_m"] = [0.03, 0.02]
    study["candidates"][2]["modules"]["corners"]["rear_right"] = {
        "orientation": "inverted",
        "inset_m": [0.01, 0.04],
    }
    return study


def test_every_figure_is_the_same_from_the_other_side(lopsided: dict[str, Any]) -> None:
    ours = evaluate_study(parse_study(lopsided))["candidates"]
    theirs = evaluate_study(parse_study(_mirrored(lopsided)))["candidates"]
    for one, other in zip(ours, theirs, strict=True):
        expected = {**one["metrics"], "cg_y_m": -one["metrics"]["cg_y_m"]}
        assert expected["cg_y_m"] != 0.0
        for metric, value in other["metrics"].items():
            number = isinstance(value, float)
            wanted = pytest.approx(expected[metric], abs=1e-9) if number else expected[metric]
            assert value == wanted, metric
        assert other["worst_pose"] == one["worst_pose"]


def test_gaps_are_the_same_with_left_for_right(lopsided: dict[str, Any]) -> None:
    def gaps(document: dict[str, Any], *, swap: bool) -> list[tuple[str, float]]:
        found = []
        for one in evaluate_study(parse_study(document))["candidates"]:
            for row in one["fit"]:
                end, _, rest = row["body"].partition("-")
                side, _, name = rest.partition(" ")
                body = f"{end}-{SWAPPED[side]} {name}" if swap and side in SWAPPED else row["body"]
                found.append((f"{one['key']} {body} {row['keepout']}", row["gap_m"]))
        return sorted(found)

    ours, theirs = gaps(lopsided, swap=False), gaps(_mirrored(lopsided), swap=True)
    assert [name for name, _ in ours] == [name for name, _ in theirs]
    assert [gap for _, gap in ours] == pytest.approx([gap for _, gap in theirs], abs=1e-12)
