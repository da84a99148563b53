"""Ballots: a call for them, what each member says, the end; nothing that was said is lost."""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.errors import BallotsClosedError, Fault, NotFoundError, StudyRefusedError
from models.services.revisions import (
    LONGEST_AUTHOR,
    can_be_id,
    cleaned,
    latest_number,
    load_study,
)
from models.services.sharing import STRAY, TOKEN_ALPHABET, TOKEN_LENGTH
from models.storage import Store
from models.storage.tables import BallotClosingRow, BallotRoundRow, BallotRow
from models.units import quoted

CODE_LENGTH = 12
"""12 of 57 characters are 70 bits: enough against guessing over the network."""
LONGEST_TITLE = 80
LONGEST_REASON = 1000
MOST_POINTS = 100.0


@dataclass(frozen=True)
class BallotRound:
    """A call for ballots, without its secret token."""

    id: str
    study_id: str
    revision: int
    title: str
    author: str
    opened_at: datetime
    criteria: tuple[Mapping[str, Any], ...]
    """Each with `metric`, `name`, `unit`, `worst`, `best`."""
    candidates: tuple[Mapping[str, Any], ...]
    """Each with `key`, `name`, `letter`."""
    last_four: str
    closed_at: datetime | None
    closed_by: str


@dataclass(frozen=True)
class Ballot:
    """What one member said last."""

    name: str
    version: int
    weights: Mapping[str, float]
    preference: str
    reason: str
    cast_at: datetime


def open_ballots(
    store: Store,
    study_id: str,
    *,
    revision: int,
    title: str,
    author: str,
    criteria: Sequence[Mapping[str, Any]],
    candidates: Sequence[Mapping[str, Any]],
) -> tuple[BallotRound, str]:
    """Call for ballots on a revision; the token of the link is given back this once.

    What is weighed is fixed here, so that a later change of the study changes no ballot. Raises
    `NotFoundError`, and `StudyRefusedError` where there is nothing to weigh or choose.
    """
    if not criteria:
        raise StudyRefusedError([Fault("criteria", "there are none; name what counts first")])
    if not candidates:
        raise StudyRefusedError([Fault("candidates", "there are none to choose from")])
    load_study(store, study_id, revision)
    token = "".join(secrets.choice(TOKEN_ALPHABET) for _ in range(TOKEN_LENGTH))
    row = BallotRoundRow(
        id=secrets.token_hex(8),
        study_id=study_id,
        revision=revision,
        title=cleaned(title, "title", LONGEST_TITLE),
        author=cleaned(author, "author", LONGEST_AUTHOR),
        opened_at=datetime.now(UTC),
        criteria=[dict(item) for item in criteria],
        candidates=[dict(item) for item in candidates],
        token_hash=_hash(token),
        last_four=token[-4:],
    )
    with store.writing() as session:
        session.add(row)
        session.flush()
        return _round(row, None), token


def list_ballot_rounds(store: Store, study_id: str) -> list[BallotRound]:
    """All calls for ballots of a study, the newest first."""
    with store.reading() as session:
        latest_number(session, study_id)
        query = (
            select(BallotRoundRow)
            .where(BallotRoundRow.study_id == study_id)
            .order_by(BallotRoundRow.opened_at.desc(), BallotRoundRow.id)
        )
        return [_round(row, _closing(session, row.id)) for row in session.scalars(query)]


def ballot_round(store: Store, study_id: str, round_id: str) -> BallotRound:
    """One call for ballots of a study; `NotFoundError` where there is none."""
    with store.reading() as session:
        row = session.get(BallotRoundRow, round_id) if can_be_id(round_id) else None
        if row is None or row.study_id != study_id:
            raise NotFoundError(f"This study has no ballots {quoted(round_id)}.")
        return _round(row, _closing(session, row.id))


def ballot_round_of(store: Store, token: str) -> BallotRound:
    """The call for ballots behind a link; `NotFoundError` for a token that never was."""
    with store.reading() as session:
        query = select(BallotRoundRow).where(BallotRoundRow.token_hash == _hash(token.strip(STRAY)))
        row = session.scalar(query)
        if row is None:
            raise NotFoundError(
                "There is no such ballot link. It may have been cut short; ask for it anew."
            )
        return _round(row, _closing(session, row.id))


def cast_ballot(
    store: Store,
    round_id: str,
    *,
    name: str,
    weights: Mapping[str, float],
    preference: str,
    reason: str,
    code: str | None = None,
) -> tuple[Ballot, str]:
    """Add a member's ballot, or change it with the code that its first version gave.

    Gives back the ballot as it counts now and its code. The same ballot said twice adds nothing.
    Raises `StudyRefusedError` for a ballot that does not answer what is asked, for a name that
    has a ballot already without its code; `BallotsClosedError` after the end.
    """
    with store.writing() as session:
        row = _queued(session, round_id)
        closing = _closing(session, round_id)
        if closing is not None:
            raise BallotsClosedError(_closed_words(closing))
        said = _checked(row, name, weights, preference, reason)
        last = _last(session, round_id, said["voter"])
        if last is not None and (code is None or _hash(code.strip(STRAY)) != last.code_hash):
            raise StudyRefusedError(
                [
                    Fault(
                        "name",
                        f"{last.name} has voted already. To change that ballot, use the browser "
                        "it was cast with or type its code; if you are somebody else, add to "
                        "your name",
                        given=name,
                    )
                ]
            )
        code = code if last is not None and code is not None else _new_code()
        if last is not None and all(getattr(last, key) == value for key, value in said.items()):
            return _ballot(last), code
        fresh = BallotRow(
            round_id=round_id,
            version=1 if last is None else last.version + 1,
            cast_at=datetime.now(UTC),
            code_hash=_hash(code.strip(STRAY)),
            **said,
        )
        session.add(fresh)
        session.flush()
        return _ballot(fresh), code


def ballots_of(store: Store, round_id: str) -> list[Ballot]:
    """The ballots that count, each member's last, in the order in which members first voted."""
    with store.reading() as session:
        return _counting(session, round_id)


def ballot_by_code(store: Store, round_id: str, code: str) -> Ballot | None:
    """The ballot that a code can change, as it counts now; None where the code fits none."""
    with store.reading() as session:
        query = select(BallotRow).where(
            BallotRow.round_id == round_id, BallotRow.code_hash == _hash(code.strip(STRAY))
        )
        found = session.scalars(query.order_by(BallotRow.version.desc()).limit(1)).first()
        return None if found is None else _ballot(found)


def close_ballots(store: Store, study_id: str, round_id: str, *, author: str) -> BallotRound:
    """End a call for ballots for good; one that has ended keeps its time and its closer."""
    ballot_round(store, study_id, round_id)
    with store.writing() as session:
        row = _queued(session, round_id)
        closing = _closing(session, round_id)
        if closing is None:
            closing = BallotClosingRow(
                round_id=round_id,
                closed_at=datetime.now(UTC),
                author=cleaned(author, "author", LONGEST_AUTHOR),
            )
            session.add(closing)
            session.flush()
        return _round(row, closing)


def _queued(session: Session, round_id: str) -> BallotRoundRow:
    """Wait until no other writer of these ballots is at work, so that none comes after the end."""
    query = select(BallotRoundRow).where(BallotRoundRow.id == round_id).with_for_update()
    row = session.scalar(query) if can_be_id(round_id) else None
    if row is None:
        raise NotFoundError(f"There are no ballots {quoted(round_id)}.")
    return row


def _closing(session: Session, round_id: str) -> BallotClosingRow | None:
    return session.get(BallotClosingRow, round_id)


def _last(session: Session, round_id: str, voter: str) -> BallotRow | None:
    query = select(BallotRow).where(BallotRow.round_id == round_id, BallotRow.voter == voter)
    return session.scalars(query.order_by(BallotRow.version.desc()).limit(1)).first()


def _counting(session: Session, round_id: str) -> list[Ballot]:
    newest = (
        select(
            BallotRow.voter.label("voter"),
            func.max(BallotRow.version).label("version"),
            func.min(BallotRow.cast_at).label("first"),
        )
        .where(BallotRow.round_id == round_id)
        .group_by(BallotRow.voter)
        .subquery()
    )
    query = (
        select(BallotRow)
        .join(
            newest,
            (BallotRow.voter == newest.c.voter) & (BallotRow.version == newest.c.version),
        )
        .where(BallotRow.round_id == round_id)
        .order_by(newest.c.first, BallotRow.voter)
    )
    return [_ballot(row) for row in session.scalars(query)]


def _checked(
    row: BallotRoundRow, name: str, weights: Mapping[str, float], preference: str, reason: str
) -> dict[str, Any]:
    """What goes into a ballot's row; refused with every fault where it misses what is asked."""
    faults: list[Fault] = []
    shown = cleaned(name, "name", LONGEST_AUTHOR)
    if not shown:
        faults.append(Fault("name", "is missing; type the name that the team knows you by"))
    asked = [str(item["metric"]) for item in row.criteria]
    points: dict[str, float] = {}
    for metric in asked:
        value = weights.get(metric)
        if value is None or not math.isfinite(value) or not 0.0 <= value <= MOST_POINTS:
            faults.append(
                Fault(
                    f"weights.{metric}",
                    "needs points from 0 to 100",
                    given=value,
                    limit="0 to 100",
                )
            )
        else:
            points[metric] = float(value)
    if len(points) == len(asked) and not any(points.values()):
        faults.append(Fault("weights", "all are 0; give at least one of them points"))
    if preference not in {str(item["key"]) for item in row.candidates}:
        faults.append(Fault("preference", "is missing; choose the candidate you would build"))
    words = _paragraphs(reason)
    if len(words) > LONGEST_REASON:
        faults.append(
            Fault(
                "reason",
                f"has {len(words)} characters; {LONGEST_REASON} is the most",
                given=words,
                limit=str(LONGEST_REASON),
            )
        )
    if faults:
        raise StudyRefusedError(faults)
    return {
        "voter": shown.casefold(),
        "name": shown,
        "weights": points,
        "preference": preference,
        "reason": words,
    }


def _paragraphs(text: str) -> str:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    clean = ["".join(c if c.isprintable() else " " for c in line).rstrip() for line in lines]
    return "\n".join(clean).strip()


def _closed_words(closing: BallotClosingRow) -> str:
    when = f"{closing.closed_at.day} {closing.closed_at:%B %Y, %H:%M} UTC"
    by = f" by {closing.author}" if closing.author else ""
    return f"These ballots were closed{by} on {when}. Ballots stay as they were then."


def _new_code() -> str:
    return "".join(secrets.choice(TOKEN_ALPHABET) for _ in range(CODE_LENGTH))


def _hash(secret: str) -> str:
    """Tokens and codes are random and long, so one plain round of SHA-256 is enough."""
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


def _round(row: BallotRoundRow, closing: BallotClosingRow | None) -> BallotRound:
    return BallotRound(
        id=row.id,
        study_id=row.study_id,
        revision=row.revision,
        title=row.title,
        author=row.author,
        opened_at=row.opened_at,
        criteria=tuple(row.criteria),
        candidates=tuple(row.candidates),
        last_four=row.last_four,
        closed_at=None if closing is None else closing.closed_at,
        closed_by="" if closing is None else closing.author,
    )


def _ballot(row: BallotRow) -> Ballot:
    return Ballot(
        name=row.name,
        version=row.version,
        weights=row.weights,
        preference=row.preference,
        reason=row.reason,
        cast_at=row.cast_at,
    )
