"""Addresses of a study's pages."""

from __future__ import annotations

import pytest

from webapp.shared.links import StudyLinks


def test_keys_are_quoted_in_addresses() -> None:
    links = StudyLinks.for_study("a/b")
    assert links.candidate("x/../y z") == "/studies/a%2Fb/candidates/x%2F..%2Fy%20z"


def test_a_viewer_has_overview_fit_and_charts_only() -> None:
    links = StudyLinks.for_viewer("t")
    assert links.overview() == "/shared/t"
    assert links.fit(pose="up") == "/shared/t/fit?pose=up"
    assert links.charts_data() == "/shared/t/charts/data.json"
    for made in (links.robot, links.givens, links.history, links.share, links.export):
        with pytest.raises(ValueError, match="viewer"):
            made()
