"""What is typed about a decision, read, with every fault said in words; and its suggestion."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from models.errors import Fault
from models.services import StudyState
from models.trade.choosing import flip_words

TEXTS = {
    "reasons": "The reasons",
    "weights_why": "The text on the weights",
    "dissent": "The dissent",
    "reconsider": "What would make the team reconsider",
}
NAMES = ("choice", *TEXTS, "reconsider_by", "owner", "decided_on", "round", "revision", "once")
LONGEST_TEXT = 4000
LONGEST_OWNER = 60
LATEST_YEAR = 2200
MOST_FLIPS = 3


def typed_in(form: Mapping[str, Any]) -> dict[str, str]:
    """Return the texts of a form, lines kept, control characters gone."""
    return {name: clean_text(str(form.get(name, ""))) for name in NAMES}


def clean_text(text: str) -> str:
    r"""Return a text of several lines without control characters and stray blanks.

    >>> clean_text(" It fits. \r\n\x00It pushes. ")
    'It fits.\n It pushes.'
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    clean = ["".join(sign if sign.isprintable() else " " for sign in line) for line in lines]
    return "\n".join(line.rstrip() for line in clean).strip()


def suggested(
    state: StudyState, decision: Mapping[str, Any], *, owner: str, round_id: str, once: str
) -> dict[str, str]:
    """Return a form to begin with: who leads, and what would turn that round."""
    names = {one["key"]: one["name"] for one in decision["candidates"]}
    near = sorted(decision["flips"], key=lambda flip: abs(flip["weight"] - flip["present"]))
    flips = [flip_words(flip, names) for flip in near[:MOST_FLIPS]]
    return {
        **dict.fromkeys(NAMES, ""),
        "choice": decision["leader"] or "",
        "reconsider": "\n".join(flips),
        "owner": owner,
        "decided_on": today().isoformat(),
        "round": round_id,
        "revision": str(state.revision.number),
        "once": once,
    }


def faults_in(
    typed: Mapping[str, str], keys: Collection[str], rounds: Collection[str]
) -> list[Fault]:
    """Return what keeps a decision from being put on record; places are the form's fields."""
    faults = []
    if typed["choice"] not in keys:
        faults.append(Fault("choice", "Choose what was decided."))
    if not typed["reasons"]:
        faults.append(Fault("reasons", "Give the reasons; one sentence is enough."))
    if not typed["reconsider"]:
        faults.append(
            Fault("reconsider", "Say what would make the team reconsider, or that nothing would.")
        )
    for name, words in TEXTS.items():
        if len(typed[name]) > LONGEST_TEXT:
            given = len(typed[name])
            faults.append(
                Fault(name, f"{words}: {LONGEST_TEXT} characters at most; this has {given}.")
            )
    if not typed["owner"]:
        faults.append(Fault("owner", "Name who looks after this decision."))
    elif len(typed["owner"]) > LONGEST_OWNER or "\n" in typed["owner"]:
        faults.append(Fault("owner", f"The owner is one name of at most {LONGEST_OWNER} letters."))
    faults += _dates(typed)
    if typed["round"] and typed["round"] not in rounds:
        faults.append(Fault("round", "Choose a round of ballots that is closed, or none."))
    return faults


def _dates(typed: Mapping[str, str]) -> Sequence[Fault]:
    faults = []
    decided, reconsider = day_in(typed["decided_on"]), day_in(typed["reconsider_by"])
    example = "such as 2027-02-13"
    if decided is None:
        faults.append(Fault("decided_on", f"Give the day of the decision, {example}."))
    elif decided > today() + dt.timedelta(days=1):
        faults.append(
            Fault("decided_on", "The day of the decision lies ahead; record it once it is made.")
        )
    if reconsider is None:
        faults.append(
            Fault("reconsider_by", f"Give the day by which the team looks at it again, {example}.")
        )
    elif decided is not None and reconsider < decided:
        faults.append(
            Fault("reconsider_by", "The day to look at it again lies before the decision.")
        )
    return faults


def today() -> dt.date:
    """Return the day in the server's own zone."""
    return dt.datetime.now(dt.UTC).astimezone().date()


def day_in(text: str) -> dt.date | None:
    """Return the date in a text, None where it is none of this age.

    >>> day_in("2027-02-13"), day_in("13.2.2027"), day_in("9999-01-01")
    (datetime.date(2027, 2, 13), None, None)
    """
    try:
        found = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return found if 2000 <= found.year <= LATEST_YEAR and len(text) == 10 else None


def words_of(typed: Mapping[str, str], baseline: str) -> dict[str, Any]:
    """Return the words that a record freezes."""
    return {
        "choice": typed["choice"],
        "keeps_baseline": typed["choice"] == baseline,
        **{name: typed[name] for name in TEXTS},
        "reconsider_by": typed["reconsider_by"],
        "owner": typed["owner"],
        "decided_on": typed["decided_on"],
    }
