"""Pages read one shared evaluation; none of them may change it for the others."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import evaluation_of, load_study
from models.study.canonical import canonical_text

PAGES = ("", "/robot", "/givens", "/candidates/swerve", "/fit", "/charts", "/comparison.csv",
         "/arrange?candidate=swerve")  # fmt: skip


@pytest.mark.parametrize("page", PAGES)
def test_a_page_leaves_the_figures_as_they_are(
    app: FastAPI, client: TestClient, study_id: str, page: str
) -> None:
    store = app.state.store
    shared = evaluation_of(store, load_study(store, study_id))
    before = canonical_text(shared)
    assert client.get(f"/studies/{study_id}{page}").status_code == 200
    assert evaluation_of(store, load_study(store, study_id)) is shared
    assert canonical_text(shared) == before
