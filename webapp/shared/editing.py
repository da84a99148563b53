"""What every page with a form does: read what was posted, change rows, save, tell what happened."""

from __future__ import annotations

import copy
import secrets
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import Fault, SaveConflictError, StudyRefusedError
from models.services import SaveOutcome, StudyState, changes_between, load_study, save_sections
from models.study.sections import split_sections
from models.units import UnitSystem
from webapp.access import (
    AUTHOR_COOKIE,
    author_name,
    clean_name,
    keep_cookie,
    store,
    unit_system,
)
from webapp.forms import Typed, read_typed, row_origins, split_name, with_row, without_row
from webapp.templating import moment

LONGEST_NOTE = 200
SEQUENCE_HEADER = "Answer-Sequence"
"""Carries the number of the question that a live answer belongs to."""
NEW_ROWS: dict[str, dict[str, Any]] = {
    "": {},
    "tube": {"tube": {}},
    "plate": {"plate": {}},
    "corners": {"outline_m": []},
}
"""What an added row holds, by what its button asks for."""
FIRST_BOXES = {
    "moves": "part",
    "legs": "to_m.0",
    "main_breaker_curve": "0",
    "branch_breaker_curve": "0",
    "ratios_on_offer": "",
}
"""The first box of a row, by its list; that of all others is the name, "" is the row itself."""


@dataclass(frozen=True)
class Posted:
    """A form as it arrived: what it began from, what was typed, and which button was pressed."""

    base: StudyState
    typed: Typed
    names: frozenset[str]
    system: UnitSystem
    controls: Mapping[str, str]

    def control(self, name: str) -> str:
        """Return the text of a field that steers the form, "" where there is none."""
        return self.controls.get(name, "")

    @property
    def changes_form(self) -> bool:
        """True where a button was pressed that changes the form and saves nothing."""
        return bool(self.control("row") or self.control("fix"))

    @property
    def note(self) -> str:
        """The one-line reason for the history."""
        return " ".join(self.control("revision_note").split())[:LONGEST_NOTE]

    @property
    def row(self) -> tuple[str, str, str]:
        """The row button pressed: what to do, to which list or row, and of which kind."""
        action, _, rest = self.control("row").partition(":")
        name, _, kind = rest.partition(":")
        return action, name, kind


@dataclass(frozen=True)
class Visit:
    """Somebody's request to a page with a form: store, name, units, and what they saved last."""

    request: Request
    store: Any
    author: str
    units: UnitSystem
    saved: str
    merged: bool


def visit(
    *,
    request: Request,
    store: Annotated[Any, Depends(store)],
    author: Annotated[str, Depends(author_name)],
    units: Annotated[UnitSystem, Depends(unit_system)],
    saved: str = "",
    merged: str = "",
) -> Visit:
    """Return what a page with a form has to know of a request, as a FastAPI dependency."""
    return Visit(request, store, author, units, saved, bool(merged))


@dataclass(frozen=True)
class SaveBar:
    """The words and texts of the bar with the save button."""

    words: str
    note: str
    ask_name: bool
    name: str
    once: str
    unsaved: bool


@dataclass(frozen=True)
class ConflictView:
    """Both versions of a section that two people changed."""

    base_number: int
    latest_number: int
    changed_in: int
    """The revision, by `latest_author`, in which the section was changed last."""
    latest_author: str
    latest_saved_at: Any
    mine: list[str]
    theirs: list[str]


def read_posted(store: Any, study_id: str, form: FormData) -> Posted:
    """Return a posted form with the revision that it began from, its fix applied."""
    controls = {name: text for name, text in form.items() if isinstance(text, str)}
    number = controls.get("base_revision", "")
    known = number.isascii() and number.isdigit() and len(number) < 10
    base = load_study(store, study_id, int(number) if known else None)
    typed = read_typed(form.multi_items())
    for name, text in parse_qsl(controls.get("fix", "")[:1000]):
        path, about = split_name(name)
        if (box := typed.at(path)) is not None:
            box.texts[about] = [text]
    try:
        system = UnitSystem(controls.get("form_units", ""))
    except ValueError:
        system = UnitSystem.SI
    return Posted(base, typed, frozenset(form.keys()), system, controls)


def sequence_of(posted: Posted) -> str:
    """Return the number of a live question, to be given back with its answer."""
    number = posted.control("seq")
    return number if number.isascii() and number.isdigit() and len(number) < 10 else "0"


def take_out_row(posted: Posted) -> None:
    """Take the row out of what was typed whose remove button was pressed."""
    action, name, _ = posted.row
    if action == "remove":
        without_row(posted.typed, split_name(name)[0])


def put_in_row(posted: Posted, values: Any) -> str:
    """Add the row whose button was pressed to the values; return the field to go to next."""
    action, name, kind = posted.row
    path = split_name(name)[0]
    if action == "remove":
        return f"button:add:{name.rpartition('.')[0]}"
    shown = posted.typed.at(path)
    if action != "add" or kind not in NEW_ROWS or shown is None or "rows" not in shown.texts:
        return ""
    try:
        rows = with_row(values, path, copy.deepcopy(NEW_ROWS[kind]))
    except (AttributeError, IndexError, KeyError, TypeError):
        return ""  # a form that no page of ours has sent
    return f"{name}.{len(rows) - 1}.{FIRST_BOXES.get(str(path[-1]), 'name')}".rstrip(".")


def origins_of(posted: Posted) -> dict[str, str]:
    """Return for each row typed the number of the stored row that it began as."""
    return row_origins(posted.typed)


def changed_sections(base: Mapping[str, Any], edits: Mapping[str, Any]) -> dict[str, Any]:
    """Return those edits that differ from the document they began from."""
    before = split_sections(base)
    return {
        section: value
        for section, value in edits.items()
        if (section in before or value not in (None, [], {})) and before.get(section) != value
    }


def save(
    store: Any, posted: Posted, edits: Mapping[str, Any], *, author: str
) -> SaveOutcome | None:
    """Save the edits that changed something; None where nothing did.

    A conflict that the user has settled as "use mine" is saved over the revision they saw: their
    own changes, and the other person's wherever they changed nothing.
    """
    settle = posted.control("settle")
    base = posted.base
    number = base.revision.number
    if settle.isascii() and settle.isdigit() and 0 < int(settle[:9]) > number:
        latest = load_study(store, base.study_id, int(settle[:9]))
        number = latest.revision.number
        before, theirs = split_sections(base.document), split_sections(latest.document)
        edits = {
            section: mine_over_theirs(before.get(section), mine, theirs.get(section))
            for section, mine in changed_sections(base.document, edits).items()
        }
        edits = changed_sections(latest.document, edits)
    else:
        edits = changed_sections(base.document, edits)
    if not edits:
        return None
    return save_sections(
        store,
        base.study_id,
        base_revision=number,
        edits=edits,
        author=author,
        note=posted.note,
        once=posted.control("once") or None,
    )


def mine_over_theirs(base: Any, mine: Any, theirs: Any) -> Any:
    """Return one value of two that both grew from a third: mine where I changed it, else theirs.

    >>> mine_over_theirs({"a": 1, "b": 1}, {"a": 2, "b": 1}, {"a": 3, "b": 4})
    {'a': 2, 'b': 4}
    """
    if mine == base:
        return theirs
    if theirs == base:
        return mine
    if isinstance(base, dict) and isinstance(mine, dict) and isinstance(theirs, dict):
        absent = object()
        merged = {}
        for key in dict.fromkeys([*theirs, *mine]):
            sides = (base.get(key, absent), mine.get(key, absent), theirs.get(key, absent))
            value = mine_over_theirs(*sides)
            if value is not absent:
                merged[key] = value
        return merged
    lists = [side for side in (base, mine, theirs) if isinstance(side, list)]
    if len(lists) == 3 and len({len(side) for side in lists}) == 1:
        return [mine_over_theirs(*sides) for sides in zip(base, mine, theirs, strict=True)]
    return mine


def conflict_view(store: Any, posted: Posted, error: SaveConflictError) -> ConflictView:
    """Return both versions of a conflict in words."""
    base = posted.base.revision.number
    sections = {conflict.section for conflict in error.conflicts}
    words = [line for conflict in error.conflicts for line in conflict.words]
    changes = changes_between(store, posted.base.study_id, base, error.latest_number)
    theirs = [change.words for change in changes if change.section in sections]
    mine = [line.removeprefix("Yours: ") for line in words if not line.startswith("Theirs: ")]
    return ConflictView(
        base,
        error.latest_number,
        error.changed_in,
        error.latest_author,
        error.latest_saved_at,
        mine,
        theirs,
    )


def author_of(posted: Posted, kept: str) -> str:
    """Return the name under which to save: the one kept, or typed beside the save button."""
    return kept or clean_name(posted.control("your_name"))


def keep_author(request: Request, response: Response, posted: Posted, kept: str) -> None:
    """Keep the name that was typed beside the save button for the next time."""
    name = author_of(posted, kept)
    if name and not kept:
        keep_cookie(request, response, AUTHOR_COOKIE, name)


def answer_to_save(
    visit: Visit,
    posted: Posted,
    edits: Mapping[str, Any],
    *,
    address: str,
    show_again: Callable[..., Response],
    faults: Sequence[Fault] = (),
) -> Response:
    """Save the edits and go back to the page, or show the form again with what stood in the way.

    `faults` are those found before the study's own checks; with any, nothing is saved.
    """
    try:
        if faults:
            raise StudyRefusedError(list(faults))
        outcome = save(visit.store, posted, edits, author=author_of(posted, visit.author))
    except StudyRefusedError as refused:
        return show_again(status=422, faults=refused.faults)
    except SaveConflictError as error:
        return show_again(status=409, conflict=conflict_view(visit.store, posted, error))
    if outcome is None or outcome.unchanged:
        happened = "nothing"
    else:
        happened = f"{outcome.state.revision.number}{'&merged=yes' if outcome.merged else ''}"
    response = RedirectResponse(
        f"{address}{'&' if '?' in address else '?'}saved={happened}", status_code=303
    )
    keep_author(visit.request, response, posted, visit.author)
    return response


def save_bar(state: StudyState, visit: Visit, posted: Posted | None = None) -> SaveBar:
    """Return the save bar: after a save, with unsaved input, or of a page just opened."""
    saved = visit.saved
    revision = state.revision
    when = f"revision {revision.number}, saved {moment(revision.saved_at)}"
    if posted is not None:
        words = f"Changed, not saved yet (began from {when})."
    elif saved == "nothing":
        words = f"Nothing had changed, so nothing was saved. This is {when}."
    elif saved == str(revision.number):
        together = ", together with what others saved meanwhile" if visit.merged else ""
        words = f"Saved as revision {revision.number}, {moment(revision.saved_at)}{together}."
    else:
        words = f"R{when[1:]}{' by ' + revision.author if revision.author else ''}."
    name = clean_name(posted.control("your_name")) if posted else ""
    return SaveBar(
        words=words,
        note=posted.control("revision_note") if posted else "",
        ask_name=not visit.author,
        name=name,
        once=secrets.token_urlsafe(12),
        unsaved=posted is not None,
    )


def free_key(stem: str, taken: Collection[str]) -> str:
    """Return a key that no entry of a group has yet.

    >>> free_key("module", {"module", "module-2"})
    'module-3'
    """
    if stem not in taken:
        return stem
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"
