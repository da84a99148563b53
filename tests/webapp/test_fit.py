"""The fit page: drawing, gaps worst first, one picked out, for editors and viewers."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from webapp.pages.fit.context import row_number


def fit_page(client: TestClient, study_id: str, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/fit", params=query)
    assert answer.status_code == 200
    return str(answer.text)


def gap_rows(page: str) -> list[tuple[str, str]]:
    return re.findall(r'<tr class="gap[^"]*"[^>]*data-body="([^"]+)" data-keepout="([^"]+)"', page)


def test_the_list_begins_with_the_worst_gap(client: TestClient, study_id: str) -> None:
    page = fit_page(client, study_id, candidate="swerve-tall")
    assert gap_rows(page)[0] == ("rear-left motors", "gripper sweep")
    assert "It does not fit: 2 conflicts." in page
    margins = [
        float(text.replace("−", "-"))
        for text in re.findall(r'<td class="number">([+−][0-9.]+)</td>', page)
    ]
    assert margins == sorted(margins)


def test_a_row_picked_by_its_address_is_lit_without_scripts(
    client: TestClient, study_id: str
) -> None:
    page = fit_page(client, study_id, candidate="swerve", row=2)
    body, keepout = gap_rows(page)[2]
    assert re.search(rf'<tr class="gap lit" data-row="2" data-body="{body}"', page)
    assert page.count('class="measure lit" data-row="2"') == 2
    assert re.search(rf'class="drawn-module lit"[^>]*data-body="{body}"', page)
    assert re.search(rf'class="drawn-keepout lit"[^>]*data-keepout="{keepout}"', page)


def test_every_row_has_its_measure_in_both_views(client: TestClient, study_id: str) -> None:
    page = fit_page(client, study_id, candidate="swerve")
    numbers = re.findall(r'<g class="measure[^"]*" data-row="([0-9]+)"', page)
    assert sorted(map(int, numbers)) == sorted(2 * list(range(len(gap_rows(page)))))


def test_an_unknown_fit_says_so_and_where_to_draw(client: TestClient, study_id: str) -> None:
    page = fit_page(client, study_id, candidate="mecanum")
    assert "the fit is not known" in page
    assert f'href="/studies/{study_id}/candidates/mecanum"' in page
    assert 'class="gaps"' not in page


def test_the_pose_moves_the_mechanisms(client: TestClient, study_id: str) -> None:
    stowed = fit_page(client, study_id, candidate="swerve", pose="stowed")
    raised = fit_page(client, study_id, candidate="swerve", pose="raised")
    assert "drawn-moved" not in stowed
    assert "drawn-moved" in raised
    assert "Side view of Four steered modules, raised" in raised


def test_both_views_have_a_title_and_a_description(client: TestClient, study_id: str) -> None:
    page = fit_page(client, study_id, candidate="swerve")
    assert re.findall(r'<title id="(fit-\w+)-title">', page) == ["fit-plan", "fit-side"]
    assert page.count("<desc") == 2


@pytest.mark.parametrize("query", [{"candidate": "none-such"}, {"pose": "none-such"}])
def test_what_the_study_does_not_have_is_not_found(
    client: TestClient, study_id: str, query: dict[str, str]
) -> None:
    assert client.get(f"/studies/{study_id}/fit", params=query).status_code == 404


@pytest.mark.parametrize("text", ["-1", "9999", "one", "1e9", "", "²"])
def test_a_row_that_is_not_there_shows_the_worst(
    client: TestClient, study_id: str, text: str
) -> None:
    page = fit_page(client, study_id, candidate="swerve", row=text)
    assert '<tr class="gap lit" data-row="0"' in page


def test_row_numbers_are_read_strictly() -> None:
    assert [row_number(text) for text in ("7", "٣", None)] == [7, None, None]


def test_inch_pound_gaps(client: TestClient, study_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    page = fit_page(client, study_id, candidate="swerve")
    assert '<th scope="col" class="number">Gap, in</th>' in page
    assert '<td class="number">0.39</td>' in page


def test_a_viewer_sees_the_fit_and_edits_nothing(client: TestClient, link_to: Any) -> None:
    page = client.get(f"/shared/{link_to()}/fit", params={"candidate": "mecanum"}).text
    main = page[page.index("<main") : page.index("</main>")]
    assert "the fit is not known" in main
    assert "/studies/" not in main
