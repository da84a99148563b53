"""The charts page and its data: curves of all candidates, a table of values behind each."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.study import parse_study
from models.units import UnitSystem
from webapp.shared.charts.context import charts_data, live_series, value_table
from webapp.shared.charts.specs import CHARTS


def data_of(client: TestClient, study_id: str, **query: Any) -> dict[str, Any]:
    answer = client.get(f"/studies/{study_id}/charts/data.json", params=query)
    assert answer.status_code == 200
    loaded: dict[str, Any] = json.loads(answer.text)
    return loaded


def test_every_candidate_has_every_curve(client: TestClient, study_id: str) -> None:
    data = data_of(client, study_id)
    assert [one["letter"] for one in data["series"]] == ["A", "B", "C", "D"]
    for one in data["series"]:
        lengths = {len(column) for column in one["sprint"].values()}
        assert len(lengths) == 1
        assert lengths.pop() > 50
        assert set(one["labels"]) == {chart.key for chart in CHARTS}


def test_the_sprint_ends_at_the_yardstick_distance(client: TestClient, study_id: str) -> None:
    for one in data_of(client, study_id)["series"]:
        assert one["sprint"]["distance"][-1] == pytest.approx(6.0, rel=0.01)
        assert one["sprint"]["time"] == sorted(one["sprint"]["time"])


def test_a_governing_limit_begins_at_a_marked_point(client: TestClient, study_id: str) -> None:
    for one in data_of(client, study_id)["series"]:
        changes, limits = one["changes"], one["force"]["limit"]
        assert changes[0]["limit"] == limits[0]
        assert all(first["limit"] != then["limit"] for first, then in pairwise(changes))


def test_the_data_are_in_the_units_of_the_page(client: TestClient, study_id: str) -> None:
    metric = data_of(client, study_id)
    client.cookies.set("units", "inch-pound")
    other = data_of(client, study_id)
    ratio = other["series"][1]["sprint"]["speed"][-1] / metric["series"][1]["sprint"]["speed"][-1]
    assert ratio == pytest.approx(1 / 0.3048, rel=0.001)
    spec = json.dumps(other["charts"]["speed"]["spec"])
    assert "Speed, ft/s" in spec
    assert "m/s" not in spec


def test_the_candidate_in_hand_is_strong(client: TestClient, study_id: str) -> None:
    data = data_of(client, study_id, strong="swerve")
    assert [one["strong"] for one in data["series"]] == [False, True, False, False]


def test_live_curves_have_the_shape_of_the_page_s_data(document: dict[str, Any]) -> None:
    study = parse_study(document)
    full = charts_data(study, UnitSystem.SI, strong="swerve")["series"][1]
    live = live_series(study, "swerve", UnitSystem.SI)["series"][0]
    assert set(live) == set(full)
    assert live["sprint"] == full["sprint"]


def test_a_table_of_values_stands_behind_every_chart(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}/charts").text
    assert re.findall(r'<figure class="chart" data-chart="(\w+)"', page) == [
        chart.key for chart in CHARTS
    ]
    assert page.count('<details class="chart-values" open>') == len(CHARTS)
    assert page.count("<caption") == len(CHARTS)
    assert "Speed, m/s" in page


def test_a_table_reads_the_curves_between_their_points() -> None:
    chart = CHARTS[0]
    curve = {"sprint": {"time": [0.0, 1.0, 2.0], "speed": [0.0, 2.0, 3.0]}}
    short = {"sprint": {"time": [0.0, 1.1], "speed": [0.0, 2.2]}}
    table = value_table(chart, [curve, short], UnitSystem.SI)
    rows = {row.at: row.cells for row in table.rows}
    assert rows["0.5"] == ("1.00", "1.00")
    assert rows["1.5"] == ("2.50", "past the end")
    assert (table.row_head, table.cell_head) == ("Time, s", "Speed, m/s")


def test_what_does_not_move_says_so() -> None:
    still = {"sprint": {"time": [], "speed": []}}
    moves = {"sprint": {"time": [0.0, 1.0], "speed": [0.0, 1.0]}}
    table = value_table(CHARTS[0], [still, moves], UnitSystem.SI)
    assert table.rows[0].cells[0] == "does not move"


def test_a_viewer_gets_the_charts_and_their_data(client: TestClient, link_to: Any) -> None:
    address = f"/shared/{link_to()}/charts"
    page = client.get(address).text
    source = re.search(r'data-charts="([^"]+)"', page)
    assert source is not None
    assert source[1].startswith(address)
    assert client.get(source[1]).status_code == 200


def test_no_more_than_five_are_overlaid(client: TestClient, study_id: str) -> None:
    data = data_of(client, study_id, show=["swerve", "mecanum"])
    assert [one["letter"] for one in data["series"]] == ["B", "D"]
