"""Notes about bodies that are missing, stick out or stand in each other."""

from __future__ import annotations

from typing import Any

from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.fit_notes import fit_notes


def notes(study: Study, key: str) -> str:
    return " ".join(fit_notes(study, study.candidate(key)))


def test_a_well_drawn_candidate_needs_none(reference: Study) -> None:
    assert fit_notes(reference, reference.candidate("swerve")) == []


def test_without_bodies_the_fit_is_not_known(reference: Study) -> None:
    assert "No bodies are drawn" in notes(reference, "mecanum")


def test_without_keepouts_the_fit_is_not_known(reference_document: dict[str, Any]) -> None:
    reference_document["robot"]["keepouts"] = []
    assert "no keep-outs" in notes(parse_study(reference_document), "swerve")


def test_what_reaches_out_of_the_frame_is_said(reference_document: dict[str, Any]) -> None:
    reference_document["candidates"][1]["frame"]["length_m"] = 0.66
    text = notes(parse_study(reference_document), "swerve")
    assert "and 3 more reach out of the frame, by 5.0 mm at most" in text


def test_modules_that_stand_in_each_other_are_named(reference_document: dict[str, Any]) -> None:
    reference_document["candidates"][1]["wheels"]["wheelbase_m"] = 0.20
    text = notes(parse_study(reference_document), "swerve")
    assert "Front-left plate and rear-left plate stand in each other." in text


def test_a_body_in_a_module_is_named(reference_document: dict[str, Any]) -> None:
    reference_document["candidates"][1]["bodies"] = [
        {
            "name": "chain run",
            "outline_m": [[0.2, 0.2], [0.24, 0.2], [0.24, 0.24]],
            "bottom_m": 0.05,
            "top_m": 0.08,
        }
    ]
    text = notes(parse_study(reference_document), "swerve")
    assert "Chain run and front-left plate stand in each other." in text


def test_a_wheel_in_a_keepout_is_named(reference_document: dict[str, Any]) -> None:
    reference_document["robot"]["keepouts"][1]["outline_m"] = [
        [-0.2, 0.32], [-0.36, 0.32], [-0.36, -0.3], [-0.2, -0.3]
    ]  # fmt: skip
    text = notes(parse_study(reference_document), "tank")
    assert "The rear-left wheel stands in “gripper sweep”" in text


def test_a_wheel_below_a_keepout_is_not(reference_document: dict[str, Any]) -> None:
    reference_document["robot"]["keepouts"][1].update(
        outline_m=[[-0.2, 0.35], [-0.36, 0.35], [-0.36, -0.35], [-0.2, -0.35]], bottom_m=0.16
    )
    assert "wheel" not in notes(parse_study(reference_document), "tank")
