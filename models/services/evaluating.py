"""The figures of a study: computed once for a document and a version of the model, then kept."""

from __future__ import annotations

import json
import logging
from collections.abc import Collection, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.exc import IntegrityError

from models.errors import StorageError, StudyRefusedError
from models.services.records import StudyState
from models.services.revisions import study_of
from models.storage import Store
from models.storage.tables import ResultRow
from models.study.canonical import canonical_text, document_hash
from models.study.reader import with_candidates
from models.study.remarks import remarks_on
from models.study.schema import Study
from models.study.sections import apply_edits, candidate_key
from models.trade.evaluation import MODEL_VERSION, evaluate_study

log = logging.getLogger(__name__)


def evaluation_of(store: Store, state: StudyState) -> dict[str, Any]:
    """All figures of a saved state, from memory, from the table or computed.

    The dict is shared with other requests: read it, never change it.

    Evaluations are a pure function of the document and the version of the model, so equal
    documents share one, whatever study they belong to.
    """
    key = (state.revision.hash, MODEL_VERSION)
    payload = store.results.get(key)
    if payload is None:
        text = kept_result(store, *key)
        if text is None:
            text = canonical_text(evaluate_study(state.study))
            keep_result(store, *key, text)
        payload = json.loads(text)
        store.results.put(key, payload)
    return payload


def preview(
    store: Store, state: StudyState, edits: Mapping[str, Any]
) -> tuple[Study, dict[str, Any]]:
    """The study with some sections replaced, and its figures; nothing is stored.

    Raises `StudyRefusedError` where the edited study would not hold.
    """
    key = (state.revision.hash, document_hash(dict(edits)), MODEL_VERSION)
    study = edited_study(store, state, edits)
    payload = store.results.get(key)
    if payload is None:
        payload = _evaluated_from(store, state, study, edits)
        store.results.put(key, payload)
    return study, payload


def edited_study(store: Store, state: StudyState, edits: Mapping[str, Any]) -> Study:
    """The study with some sections replaced; nothing is stored.

    Raises `StudyRefusedError` where the edited study would not hold.
    """
    key = (state.revision.hash, document_hash(dict(edits)))
    study = store.studies.get(key)
    if study is None:
        study = _edited(store, state, edits)
        store.studies.put(key, study)
    return study


def _edited(store: Store, state: StudyState, edits: Mapping[str, Any]) -> Study:
    """The study with some sections replaced; only the candidates are read anew where that will do.

    Reading the whole study takes most of the time of a preview, and while one types, it is one
    candidate that changes.
    """
    changed = _edited_candidates(state, edits)
    if changed is not None:
        try:
            return with_candidates(state.study, changed)
        except StudyRefusedError:
            pass  # reading the whole document says where in it the faults lie
    document = apply_edits(state.document, edits)
    return study_of(store, document)


def _edited_candidates(
    state: StudyState, edits: Mapping[str, Any]
) -> dict[str, Mapping[str, Any]] | None:
    """The edits by candidate, None where they do more than change candidates that are there."""
    known = {one.key for one in state.study.candidates}
    changed: dict[str, Mapping[str, Any]] = {}
    for section, value in edits.items():
        key = candidate_key(section)
        if key not in known or not isinstance(value, Mapping) or value.get("key", key) != key:
            return None
        changed[str(key)] = {**value, "key": key}
    return changed


def _evaluated_from(
    store: Store, state: StudyState, study: Study, edits: Mapping[str, Any]
) -> dict[str, Any]:
    """The figures of an edited study, computing only the candidates that differ from the saved.

    A candidate's figures follow from itself, or the one whose base it keeps, and from what all
    candidates share; its notes also from the remarks on the whole study. So the rest is taken over
    where nothing but candidates changed, in place, and the remarks on the others are the same.
    """
    changed = _edited_candidates(state, edits)
    touched = {
        one.key for one in study.candidates if {one.key, one.same_base_as} & {*(changed or ())}
    }
    if (
        changed is None
        or study.baseline.key != state.study.baseline.key
        or _remarks_beside(study, touched) != _remarks_beside(state.study, touched)
    ):
        return evaluate_study(study)
    payload = evaluation_of(store, state)
    if changed:
        fresh = {one["key"]: one for one in evaluate_study(study, keys=touched)["candidates"]}
        one_by_one = [fresh.get(one["key"], one) for one in payload["candidates"]]
        payload = {**payload, "candidates": one_by_one}
    return payload


def _remarks_beside(study: Study, keys: Collection[str]) -> list[str]:
    return [str(one) for one in remarks_on(study) if one.candidate_key not in keys]


def kept_result(store: Store, hash_: str, version: str) -> str | None:
    """The text of a result in the table, None where it is not there."""
    with store.reading() as session:
        row = session.get(ResultRow, (hash_, version))
        return None if row is None else row.payload


def keep_result(store: Store, hash_: str, version: str, text: str) -> None:
    """Keep a result in the table; a disk that is full does not take the figures off the page."""
    row = ResultRow(
        document_hash=hash_, model_version=version, payload=text, computed_at=datetime.now(UTC)
    )
    try:
        with store.writing() as session:
            session.add(row)
    except IntegrityError:
        pass  # another request computed the same in this moment
    except StorageError as error:
        log.warning("The evaluation was not kept: %s", error)
