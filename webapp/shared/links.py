"""The addresses of a study's pages, built in one place for editors and for viewers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote, urlencode


def _with_query(address: str, **query: str | list[str] | None) -> str:
    given = {name: value for name, value in query.items() if value not in (None, "", [])}
    return f"{address}?{urlencode(given, doseq=True)}" if given else address


@dataclass(frozen=True)
class StudyLinks:
    """Addresses of one study's pages; a viewer's have no editing ones.

    >>> StudyLinks.for_study("s1").fit(candidate="swerve", pose="arm out")
    '/studies/s1/fit?candidate=swerve&pose=arm+out'
    >>> StudyLinks.for_viewer("abc").charts()
    '/shared/abc/charts'
    """

    base: str
    can_edit: bool
    candidate_keys: tuple[str, ...] = field(default=())

    @classmethod
    def for_study(cls, study_id: str, candidate_keys: tuple[str, ...] = ()) -> StudyLinks:
        """Return the links of somebody who may edit the study."""
        return cls(f"/studies/{quote(study_id, safe='')}", True, candidate_keys)

    @classmethod
    def of_state(cls, state: Any) -> StudyLinks:
        """Return the links of the study in a `StudyState`, for somebody who may edit it."""
        keys = tuple(candidate.key for candidate in state.study.candidates)
        return cls.for_study(state.study_id, keys)

    @classmethod
    def for_viewer(cls, token: str) -> StudyLinks:
        """Return the links of somebody who opened a shared link."""
        return cls(f"/shared/{quote(token, safe='')}", False)

    def overview(
        self,
        show: list[str] | None = None,
        only: str | None = None,
        beside: str | None = None,
    ) -> str:
        """Address of the overview; `show` are candidate keys, `only` is "differences".

        `beside` is the candidate that a phone puts beside the baseline.
        """
        return _with_query(self.base, show=show, only=only, beside=beside)

    def robot(self) -> str:
        """Address of the robot's parts, poses and keep-outs."""
        return self._edit("robot")

    def givens(self) -> str:
        """Address of what the study takes as given: rules, power, yardsticks, field, motors."""
        return self._edit("givens")

    def measure(self) -> str:
        """Address where constants and simple tests are held against the model and taken over."""
        return self._edit("measure")

    def candidate(self, key: str) -> str:
        """Address of one candidate's inputs."""
        return self._edit("candidates", key)

    def candidate_live(self, key: str) -> str:
        """Address that recomputes a candidate while its inputs are typed."""
        return self._edit("candidates", key, "live")

    def candidate_duplicate(self, key: str) -> str:
        """Address that duplicates a candidate."""
        return self._edit("candidates", key, "duplicate")

    def candidate_remove(self, key: str) -> str:
        """Address that removes a candidate."""
        return self._edit("candidates", key, "remove")

    def first_candidate(self) -> str:
        """Address of the first candidate, where the pages of the candidates begin."""
        return self.candidate(self.candidate_keys[0]) if self.candidate_keys else self.overview()

    def fit(
        self, candidate: str | None = None, pose: str | None = None, row: int | None = None
    ) -> str:
        """Address of the plan and side drawing of a candidate in a pose, one gap picked out."""
        picked = None if row is None else str(row)
        return _with_query(f"{self.base}/fit", candidate=candidate, pose=pose, row=picked)

    def fit_live(self) -> str:
        """Address that recomputes the fit while something is moved on the drawing."""
        return self._edit("fit", "live")

    def fit_save(self) -> str:
        """Address that saves what was moved on the drawing."""
        return self._edit("fit", "save")

    def drawings(self) -> str:
        """Address where outlines are taken from a drawing."""
        return self._edit("drawings")

    def drawings_read(self) -> str:
        """Address that reads a drawing."""
        return self._edit("drawings", "read")

    def plan_file(self, ending: str, candidate: str | None, pose: str | None) -> str:
        """Address of the plan of a candidate in a pose as a file, `ending` "dxf" or "svg"."""
        return _with_query(self._edit("fit", f"plan.{ending}"), candidate=candidate, pose=pose)

    def arrange(self, candidate: str | None = None, **query: str) -> str:
        """Address of the search for an arrangement of a candidate that fits."""
        return _with_query(self._edit("arrange"), candidate=candidate, **query)

    def charts(self, strong: str | None = None, show: list[str] | None = None) -> str:
        """Address of the charts; `strong` is the candidate in hand, `show` those overlaid."""
        return _with_query(f"{self.base}/charts", strong=strong, show=show)

    def charts_data(self, strong: str | None = None, show: list[str] | None = None) -> str:
        """Address of the figures behind the charts."""
        return _with_query(f"{self.base}/charts/data.json", strong=strong, show=show)

    def routes(self, route: str | None = None, candidate: str | None = None) -> str:
        """Address of the routes over the field; one of them and one candidate picked out."""
        return _with_query(f"{self.base}/routes", route=route, candidate=candidate)

    def gearing(self, candidate: str | None = None, **query: str) -> str:
        """Address where ratios, wheels and limits of a candidate are tried."""
        return _with_query(self._edit("gearing"), candidate=candidate, **query)

    def turning(self, **query: str) -> str:
        """Address of speed and push in all directions, and of turning in place."""
        return _with_query(f"{self.base}/turning", **query)

    def power(
        self,
        battery: str | None = None,
        candidate: str | None = None,
        show: list[str] | None = None,
    ) -> str:
        """Address of what the battery goes through: sprint, push, match, day."""
        return _with_query(f"{self.base}/power", battery=battery, candidate=candidate, show=show)

    def wiring(self, candidate: str | None = None, show: list[str] | None = None) -> str:
        """Address of breakers, cables and slots."""
        return _with_query(self._edit("wiring"), candidate=candidate, show=show)

    def shoving(self, **query: str) -> str:
        """Address of pushing, being pushed, and driving with a part dead."""
        return _with_query(f"{self.base}/shoving", **query)

    def schedule(self, candidate: str | None = None, **query: str) -> str:
        """Address of what has to be done and bought, and when it can be ready."""
        return _with_query(f"{self.base}/schedule", candidate=candidate, **query)

    def decide(self) -> str:
        """Address of gates, criteria, weights and what they say."""
        return f"{self.base}/decide"

    def matters(self, candidate: str | None = None, metric: str | None = None) -> str:
        """Address of what moves a figure most."""
        return _with_query(f"{self.base}/matters", candidate=candidate, metric=metric)

    def ballots(self, round_id: str | None = None) -> str:
        """Address of the calls for ballots, or of one of them."""
        return self._edit("ballots") if round_id is None else self._edit("ballots", round_id)

    def decisions(self, record_id: str | None = None) -> str:
        """Address of the decisions on record, or of one of them."""
        return self._edit("decisions") if record_id is None else self._edit("decisions", record_id)

    def page(self, *steps: str) -> str:
        """Address below the study's own, for editors, such as a page's live recompute."""
        return self._edit(*steps)

    def history(self, earlier: int | None = None, later: int | None = None) -> str:
        """Address of the revisions, two of them compared where both are given."""
        both = earlier is not None and later is not None
        query = {"from": str(earlier), "to": str(later)} if both else {}
        return _with_query(self._edit("history"), **query)

    def restore(self) -> str:
        """Address that restores an earlier revision."""
        return self._edit("history", "restore")

    def share(self) -> str:
        """Address of the list of shared links."""
        return self._edit("share")

    def share_new(self) -> str:
        """Address that makes a shared link."""
        return self._edit("share", "new")

    def share_revoke(self, link_id: str) -> str:
        """Address that revokes a shared link."""
        return self._edit("share", str(link_id), "revoke")

    def duplicate(self) -> str:
        """Address that makes a copy of the whole study."""
        return self._edit("duplicate")

    def export(self) -> str:
        """Address of the study file."""
        return self._edit("study.json")

    def comparison_csv(self) -> str:
        """Address of the side-by-side table as CSV."""
        return self._edit("comparison.csv")

    def comparison_xlsx(self) -> str:
        """Address of the side-by-side table as a workbook."""
        return self._edit("comparison.xlsx")

    def study_page_file(self) -> str:
        """Address of the whole study as one page in a file."""
        return f"{self.base}/study.html"

    def picture(self) -> str:
        """Address of the picture that a chat shows."""
        return f"{self.base}/picture.png"

    def _edit(self, *steps: str) -> str:
        if not self.can_edit:
            raise ValueError("A viewer's links lead to pages that show, not to those that edit.")
        return "/".join([self.base, *(quote(step, safe="") for step in steps)])
