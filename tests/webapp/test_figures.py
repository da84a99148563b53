"""The page that explains every figure: complete, true of the code, open to whoever reads."""

from __future__ import annotations

import importlib
import inspect
import json
import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.quantities import METRICS, QUESTIONS
from webapp.pages.figures.context import equation_of, explained_questions
from webapp.pages.figures.guards import EXTRAS, GUARDS, WHOLE
from webapp.shared.comparison.meanings import MEANINGS

ROOT = Path(__file__).resolve().parents[2]


def test_every_metric_and_every_meaning_has_an_entry() -> None:
    assert set(GUARDS) == {*METRICS, *EXTRAS}
    assert set(MEANINGS) == set(GUARDS)
    shown = [figure.key for question in explained_questions() for figure in question.figures]
    assert sorted(shown) == sorted(GUARDS)
    assert {extra.question for extra in EXTRAS.values()} <= {key for key, _ in QUESTIONS}


@pytest.mark.parametrize("key", GUARDS)
def test_every_check_exists_and_every_figure_has_one(key: str) -> None:
    assert GUARDS[key].checks
    for check in GUARDS[key].checks:
        text = (ROOT / check.file).read_text(encoding="utf-8")
        assert f"def {check.test}(" in text, check
        assert check.words.endswith(".")


@pytest.mark.parametrize("key", GUARDS)
def test_every_figure_says_where_it_comes_from(key: str) -> None:
    guard = GUARDS[key]
    assert guard.functions or guard.source
    for name in guard.functions:
        module, _, function = name.partition(".")
        found = getattr(importlib.import_module(f"models.engineering.{module}"), function)
        assert inspect.isfunction(found)
        assert equation_of(name).source


def test_what_the_whole_case_guards_is_in_the_whole_case() -> None:
    path = ROOT / "tests" / "reference" / "reference-1.expected.json"
    expected = json.loads(path.read_text(encoding="utf-8"))
    held = {name.partition(":")[0] for one in expected.values() for name in one}
    guarded = {key for key, guard in GUARDS.items() if WHOLE in guard.checks}
    assert guarded <= held


def test_the_page_reads_the_codes_own_equations(client: TestClient) -> None:
    answer = client.get("/figures")
    assert answer.status_code == 200
    text = answer.text
    assert "Vbus = Voc − Rb·I" in text
    assert "Peshkin and Sanderson" in text
    assert "tests/reference/test_measured_drives.py" in text
    for key in GUARDS:
        assert f'id="{key}"' in text
        assert f'href="#{key}"' in text
    ids = re.findall(r'\sid="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_the_overview_leads_to_it_for_editors_and_viewers(
    client: TestClient, study_id: str, link_to: Any
) -> None:
    for address in (f"/studies/{study_id}", f"/shared/{link_to()}"):
        text = client.get(address).text
        assert text.count('href="/figures"') == 2
    page = client.get("/figures").text
    assert "/studies/" not in page
    assert '<a href="/">' not in page
