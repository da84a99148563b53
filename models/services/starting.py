"""Starting a plan: a list of tasks put into a candidate, a candidate for another use of the hours.

Contents: `add_task_template`, `add_alternative_use`.
"""

from __future__ import annotations

from models.errors import NotFoundError
from models.seed import task_templates
from models.services.editing import save_sections
from models.services.records import SaveOutcome
from models.services.revisions import load_study
from models.storage import Store
from models.trade.starting_tasks import alternative_edits, template_edits
from models.units import quoted


def add_task_template(
    store: Store,
    study_id: str,
    key: str,
    template_key: str,
    *,
    author: str,
    once: str | None = None,
) -> SaveOutcome:
    """Put a template's tasks and purchases behind a candidate's own, as a revision.

    A key `once` that was used before gives back what it led to, so that two clicks add one list.
    Raises `NotFoundError` where there is no such candidate or template.
    """
    template = task_templates().get(template_key)
    if template is None:
        raise NotFoundError(f"There is no list of tasks {quoted(template_key)}.")
    state = load_study(store, study_id)
    name = state.study.candidate(key).name
    return save_sections(
        store,
        study_id,
        base_revision=state.revision.number,
        edits=template_edits(state.document, key, template),
        author=author,
        note=f"{name}: list of tasks “{template['name']}” added"[:200],
        once=once,
    )


def add_alternative_use(
    store: Store, study_id: str, *, author: str, once: str | None = None
) -> SaveOutcome:
    """Add a candidate that keeps today's base, the last of the study, its tasks still to come.

    A key `once` that was used before gives back what it led to.
    """
    state = load_study(store, study_id)
    edits = alternative_edits(state.document, state.study.baseline.key)
    return save_sections(
        store,
        study_id,
        base_revision=state.revision.number,
        edits=edits,
        author=author,
        note="Another use of the same hours added",
        once=once,
    )
