"""The pages of a study in the order in which a team works through them, in groups."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.shared.links import StudyLinks


@dataclass(frozen=True)
class PageLink:
    """One page: the key that its context names as `nav`, its words and its address."""

    key: str
    words: str
    address: str


@dataclass(frozen=True)
class PageGroup:
    """Pages that belong together; a narrow screen shows only the group in hand."""

    words: str
    pages: tuple[PageLink, ...]

    def holds(self, key: str | None) -> bool:
        """Return whether a page is one of the group's."""
        return any(page.key == key for page in self.pages)

    @property
    def address(self) -> str:
        """Address of the group's first page."""
        return self.pages[0].address


def study_pages(links: StudyLinks) -> tuple[PageGroup, ...]:
    """Return a study's pages in groups: an editor's, or those that a viewer may see.

    >>> [group.words for group in study_pages(StudyLinks.for_viewer("abc"))]
    ['Overview', 'Space', 'Time', 'Power', 'Plan', 'Choice']
    """
    editor = links.can_edit
    groups: list[tuple[str, list[tuple[str, str, str]]]] = [
        ("Overview", [("overview", "Overview", links.overview())])
    ]
    if editor:
        groups.append(
            (
                "Inputs",
                [
                    ("robot", "Robot", links.robot()),
                    ("givens", "Givens", links.givens()),
                    ("candidates", "Candidates", links.first_candidate()),
                    ("measure", "Measure", links.measure()),
                ],
            )
        )
    groups.append(("Space", [("fit", "Fit", links.fit())]))
    time = [("routes", "Routes", links.routes())]
    if editor:
        time.append(("gearing", "Gearing", links.gearing()))
    time += [("turning", "Turning", links.turning()), ("charts", "Charts", links.charts())]
    groups.append(("Time", time))
    power = [("power", "Power", links.power())]
    if editor:
        power.append(("wiring", "Wiring", links.wiring()))
    groups.append(("Power", [*power, ("shoving", "Shoving", links.shoving())]))
    groups.append(("Plan", [("schedule", "Schedule", links.schedule())]))
    choice = [("decide", "Decide", links.decide()), ("matters", "What matters", links.matters())]
    if editor:
        choice.append(("ballots", "Ballots", links.ballots()))
        choice.append(("decisions", "Decisions", links.decisions()))
    groups.append(("Choice", choice))
    if editor:
        record = [("history", "History", links.history()), ("share", "Share", links.share())]
        groups.append(("Record", record))
    return tuple(
        PageGroup(words, tuple(PageLink(*page) for page in pages)) for words, pages in groups
    )
