"""The pages of a study in groups."""

from __future__ import annotations

import pytest

from webapp.paths import PACKAGE
from webapp.shared.links import StudyLinks
from webapp.shared.navigation import study_pages

EDITOR = StudyLinks.for_study("s1", ("tank",))
VIEWER = StudyLinks.for_viewer("abc")


def keys(links: StudyLinks) -> list[str]:
    return [page.key for group in study_pages(links) for page in group.pages]


def test_every_page_stands_once() -> None:
    assert len(set(keys(EDITOR))) == len(keys(EDITOR))


def test_every_page_exists() -> None:
    folders = {"candidates": "candidate"}
    for key in keys(EDITOR):
        assert (PACKAGE / "pages" / folders.get(key, key) / "routes.py").is_file(), key


def test_a_viewer_sees_only_pages_that_show() -> None:
    editing = {"robot", "givens", "candidates", "gearing", "wiring", "history", "share"}
    editing |= {"ballots", "decisions", "measure"}
    assert set(keys(VIEWER)) == set(keys(EDITOR)) - editing


@pytest.mark.parametrize("links", [EDITOR, VIEWER], ids=["editor", "viewer"])
def test_a_page_belongs_to_one_group(links: StudyLinks) -> None:
    for key in keys(links):
        assert sum(group.holds(key) for group in study_pages(links)) == 1


def test_a_viewers_addresses_stay_behind_the_link() -> None:
    addresses = [page.address for group in study_pages(VIEWER) for page in group.pages]
    assert all(address.startswith("/shared/abc") for address in addresses)
