"""One function for each thing a user does: load, compute, save."""

from models.services.arranging import add_arrangement
from models.services.backing_up import backup, export_study
from models.services.editing import (
    duplicate_candidate,
    remove_candidate,
    restore_revision,
    save_sections,
)
from models.services.evaluating import evaluation_of, preview
from models.services.records import (
    LinkInfo,
    LinkKind,
    RevisionInfo,
    SaveOutcome,
    SharedView,
    StudyState,
    StudySummary,
)
from models.services.revisions import load_study
from models.services.sharing import create_link, list_links, open_link, revoke_link
from models.services.studies import (
    changes_between,
    create_study,
    duplicate_study,
    list_revisions,
    list_studies,
)
from models.storage import Store, open_store
from models.study.changes import Change

__all__ = [
    "Change",
    "LinkInfo",
    "LinkKind",
    "RevisionInfo",
    "SaveOutcome",
    "SharedView",
    "Store",
    "StudyState",
    "StudySummary",
    "add_arrangement",
    "backup",
    "changes_between",
    "create_link",
    "create_study",
    "duplicate_candidate",
    "duplicate_study",
    "evaluation_of",
    "export_study",
    "list_links",
    "list_revisions",
    "list_studies",
    "load_study",
    "open_link",
    "open_store",
    "preview",
    "remove_candidate",
    "restore_revision",
    "revoke_link",
    "save_sections",
]
