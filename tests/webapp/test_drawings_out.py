"""Plans given out as files, for the candidate and pose that the address names."""

from __future__ import annotations

import io
from typing import Any

import pytest
from ezdxf.filemanagement import read
from starlette.testclient import TestClient


@pytest.mark.parametrize(("ending", "kind"), [("dxf", "image/vnd.dxf"), ("svg", "image/svg+xml")])
def test_a_plan_is_given_out_as_a_file(
    client: TestClient, study_id: str, ending: str, kind: str
) -> None:
    answer = client.get(f"/studies/{study_id}/fit/plan.{ending}", params={"candidate": "swerve"})
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    assert answer.headers["content-disposition"].endswith(f'.{ending}"')
    assert "swerve" in answer.headers["content-disposition"]


def test_the_pose_moves_the_parts(
    client: TestClient, study_id: str, document: dict[str, Any]
) -> None:
    poses = [pose["name"] for pose in document["robot"]["poses"]]
    address = f"/studies/{study_id}/fit/plan.dxf"
    texts = [client.get(address, params={"pose": pose}).text for pose in poses]
    places = [
        [line.get_points("xy") for line in read(io.StringIO(text)).modelspace().query("LWPOLYLINE")]
        for text in texts
    ]
    assert len({repr(place) for place in places}) > 1


@pytest.mark.parametrize("query", [{"candidate": "nobody"}, {"pose": "nowhere"}])
def test_an_unknown_candidate_or_pose_is_not_found(
    client: TestClient, study_id: str, query: dict[str, str]
) -> None:
    assert client.get(f"/studies/{study_id}/fit/plan.svg", params=query).status_code == 404


def test_the_fit_page_leads_to_the_files_of_what_it_shows(
    client: TestClient, study_id: str
) -> None:
    page = client.get(f"/studies/{study_id}/fit", params={"candidate": "swerve"}).text
    assert f"/studies/{study_id}/fit/plan.dxf?candidate=swerve&amp;pose=" in page
    assert f"/studies/{study_id}/drawings" in page


def test_a_viewer_is_shown_no_links_for_editors(client: TestClient, link_to: Any) -> None:
    base = f"/shared/{link_to()}"
    page = client.get(f"{base}/fit").text
    assert "plan.dxf" not in page
    assert "Take outlines" not in page
