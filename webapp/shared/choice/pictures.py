"""Pictures of a decision: scores with their ranges, and how often each takes which rank.

All places are percentages of the width, so that one drawing serves phone, screen and paper.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from webapp.shared.candidates import CandidateMark
from webapp.shared.choice.measures import percent
from webapp.shared.choice.words import range_words, score_words

RANK_NAMES = ("first", "second", "third", "fourth")
LATER = "later"
"""What stands for the fourth rank and those after it where there are more."""
LABEL_ROOM = 13.0
"""A stretch narrower than this [%] has no room for its number."""
SCORE_TICKS = ((0.0, "0"), (25.0, "0.25"), (50.0, "0.5"), (75.0, "0.75"), (100.0, "1"))
SHARE_TICKS = ((0.0, "0 %"), (25.0, "25"), (50.0, "50"), (75.0, "75"), (100.0, "100 %"))


@dataclass(frozen=True)
class ScoreBar:
    """One candidate's score as a bar, its range as a whisker."""

    mark: CandidateMark
    score: str
    spread: str
    width: float
    low: float
    high: float
    out: str
    """Why it takes no rank, "" where it does."""
    first: bool

    @property
    def words(self) -> str:
        """What the bar shows, for those who do not see it."""
        spread = f", {self.spread} in eight draws of ten" if self.spread else ""
        out = f"; {self.out}" if self.out else ""
        return f"{self.mark.letter} {self.mark.name}: score {self.score}{spread}{out}"


@dataclass(frozen=True)
class RankPiece:
    """One stretch of a bar of ranks."""

    rank: int
    left: float
    width: float
    label: str
    words: str


@dataclass(frozen=True)
class RankBar:
    """How often one candidate takes each rank."""

    mark: CandidateMark
    pieces: tuple[RankPiece, ...]
    first: str
    words: str


@dataclass(frozen=True)
class RankPicture:
    """The ranks of all candidates over one set of weightings."""

    id: str
    title: str
    about: str
    bars: tuple[RankBar, ...]
    legend: tuple[tuple[int, str], ...]


def score_bars(
    decision: Mapping[str, Any], marks: Mapping[str, CandidateMark]
) -> tuple[ScoreBar, ...]:
    """Return the bars, the highest score first; those that are out come last."""
    rows = {one["key"]: one for one in decision["candidates"]}
    others = [key for key in rows if key not in decision["order"]]
    bars = []
    for key in [*decision["order"], *others]:
        one = rows[key]
        if one["score"] is None and not one["failed_gates"] and not one["not_scored"]:
            continue
        score = one["score"] or 0.0
        low = score if one["score_p10"] is None else one["score_p10"]
        high = score if one["score_p90"] is None else one["score_p90"]
        out = "fails a gate" if one["failed_gates"] else "not scored" if one["not_scored"] else ""
        bars.append(
            ScoreBar(
                mark=marks[key],
                score=score_words(one["score"]),
                spread=range_words(one),
                width=round(100.0 * score, 2),
                low=round(100.0 * low, 2),
                high=round(100.0 * high, 2),
                out=out,
                first=key == decision["leader"],
            )
        )
    return tuple(bars)


def rank_picture(
    id_: str,
    title: str,
    about: str,
    ranks: Mapping[str, Sequence[float]],
    marks: Mapping[str, CandidateMark],
) -> RankPicture:
    """Return a picture of ranks; `ranks` holds each candidate's shares, in the bars' order."""
    most = max((len(shares) for shares in ranks.values()), default=0)
    names = RANK_NAMES[:most] if most <= len(RANK_NAMES) else (*RANK_NAMES[:-1], LATER)
    return RankPicture(
        id=id_,
        title=title,
        about=about,
        bars=tuple(_rank_bar(marks[key], shares, names) for key, shares in ranks.items()),
        legend=tuple(enumerate(names)),
    )


def _rank_bar(mark: CandidateMark, shares: Sequence[float], names: Sequence[str]) -> RankBar:
    last = len(names) - 1
    joined = [*shares[:last], sum(shares[last:])]
    pieces, said = [], []
    left = 0.0
    for rank, share in enumerate(joined):
        width = 100.0 * share
        if share > 0.0:
            words = f"{names[rank]} in {percent(share)}"
            said.append(words)
            label = f"{width:.0f} %" if width >= LABEL_ROOM else ""
            pieces.append(RankPiece(rank, round(left, 2), round(width, 2), label, words))
        left += width
    words = f"{mark.letter} {mark.name}: {', '.join(said)}"
    return RankBar(mark, tuple(pieces), percent(joined[0]), words)
