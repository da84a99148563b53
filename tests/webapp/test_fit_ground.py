"""The fit page by pose, and its sections on rules, ramp and platform."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_study
from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from models.units import UnitSystem
from webapp.shared.fit.ground import ground_context

Document = dict[str, Any]


@pytest.fixture
def page(app: FastAPI, client: TestClient, document: Document) -> Any:
    """Shows the fit page of the document as it stands, in a pose."""

    def show(candidate: str = "swerve-tall", pose: str | None = None) -> str:
        study_id = create_study(app.state.store, document, author="", note="").study_id
        query = {"candidate": candidate, **({"pose": pose} if pose else {})}
        answer = client.get(f"/studies/{study_id}/fit", params=query)
        assert answer.status_code == 200
        return str(answer.text)

    return show


def name_poses(document: Document, *poses: str) -> None:
    for keepout in document["robot"]["keepouts"]:
        if keepout["name"] == "gripper sweep":
            keepout["poses"] = list(poses)


def test_a_conflict_names_its_poses(document: Document, page: Any) -> None:
    name_poses(document, "raised")
    stowed = page(pose="stowed")
    assert "It does not fit: 2 conflicts, none of them in the pose shown." in stowed
    assert re.search(r'<tr class="gap lit gap-elsewhere"[^>]*data-keepout="gripper sweep"', stowed)
    assert '<td class="gap-poses">raised</td>' in stowed
    assert "It does not fit: 2 conflicts." in page(pose="raised")


def test_keepouts_of_other_poses_and_swept_ones_are_drawn_lighter(
    document: Document, page: Any
) -> None:
    name_poses(document, "raised")
    drawn = r'<path class="drawn-keepout[^"]*drawn-elsewhere[^"]*"[^>]*data-keepout="gripper sweep"'
    assert len(re.findall(drawn, page(pose="stowed"))) == 2
    assert not re.findall(drawn, page(pose="raised"))
    document["robot"]["keepouts"][0]["swept"] = True
    assert "drawn-swept" in page(pose="raised")


def test_one_column_less_where_all_count_in_all_poses(page: Any) -> None:
    assert "gap-poses" not in page()


def ground(document: Document, key: str = "tank", system: UnitSystem = UnitSystem.SI) -> Document:
    payload = evaluate_study(parse_study(document), keys=[key])
    return ground_context(payload["candidates"][0], system)


def rows(context: Document) -> dict[str, Any]:
    return {row.name: row for row in context["ground_rules"]}


def test_what_is_not_given_says_where_to_give_it(document: Document) -> None:
    found = rows(ground(document))
    assert found["Ground clearance"].value == "not given"
    assert "candidate's page" in found["Ground clearance"].standing[2]
    assert found["Bumpers, outer size"].value == "not given"


def with_underside(document: Document, *, belly: float, ramp: float) -> None:
    document["yardsticks"]["ramp_deg"] = ramp
    document["rules"].update(bumper_thickness_m=0.08, bumper_bottom_m=0.1, bumper_top_m=0.24)
    for candidate in document["candidates"]:
        candidate["frame"]["belly_m"] = belly


def test_a_crest_that_only_centre_wheels_pass(document: Document) -> None:
    with_underside(document, belly=0.03, ramp=15)
    context = ground(document)
    assert (
        context["ground_rule_words"][2] == "It clears the 15.0° ramp with its nose, tail and crest."
    )
    crest = rows(context)["Break-over angle, crest between the wheels"]
    assert "only thanks to the centre wheels" in crest.standing[2]
    steered = ground(document, "swerve")
    assert steered["ground_rule_words"][2] == "On the 15.0° ramp it touches with its crest."


def test_sizes_in_both_systems(document: Document) -> None:
    with_underside(document, belly=0.03, ramp=15)
    si, inches = (rows(ground(document, system=system)) for system in UnitSystem)
    assert si["Ground clearance"].value == "30.0 mm"
    assert inches["Ground clearance"].value == "1.18 in"


def test_the_ramp_says_what_stops_it(document: Document) -> None:
    with_underside(document, belly=0.03, ramp=50)
    context = ground(document)
    sign, css, words = context["ground_ramp_words"]
    assert (sign, css) == ("✕", "bad")
    assert words.startswith("It does not climb the 50.0° ramp")
    assert context["ground_ramp"][0].speed == "none"


def test_the_platform_says_where_to_stand(document: Document, page: Any) -> None:
    document["platform"] = {
        "length_m": 2.4, "hold_moment_nm": 20,
        "partners": [{"name": "neighbour", "mass_kg": 50, "at_m": 0.4}],
    }  # fmt: skip
    shown = page("tank")
    assert "Level on the platform" in shown
    assert "With neighbour (50.0 kg) at +400 mm on a platform 2.40 m long" in shown


def test_figures_of_an_earlier_model_show_no_sections() -> None:
    assert ground_context({"metrics": {}}, UnitSystem.SI)["ground_rules"] == []


def test_the_page_has_both_sections(page: Any) -> None:
    shown = page()
    assert '<h2 id="rules-head">Rules</h2>' in shown
    assert '<h2 id="ramp-head">On the ramp</h2>' in shown
