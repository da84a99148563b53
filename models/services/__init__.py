"""One function for each thing a user does: load, compute, save."""

from models.services.arranging import add_arrangement
from models.services.backing_up import backup, export_study
from models.services.balloting import (
    Ballot,
    BallotRound,
    ballot_by_code,
    ballot_round,
    ballot_round_of,
    ballots_of,
    cast_ballot,
    close_ballots,
    list_ballot_rounds,
    open_ballots,
)
from models.services.choosing import decision_of_state, matters_of_state, typed_decision_of
from models.services.editing import (
    duplicate_candidate,
    remove_candidate,
    restore_revision,
    save_sections,
)
from models.services.evaluating import edited_study, evaluation_of, preview
from models.services.freezing import call_for_ballots, can_weigh, decision_payload
from models.services.gearing import add_geared
from models.services.recording import (
    DecisionInfo,
    DecisionRecord,
    Outcome,
    add_outcome,
    decision_record,
    list_decisions,
    record_decision,
)
from models.services.records import (
    LinkInfo,
    LinkKind,
    RevisionInfo,
    SaveOutcome,
    SharedView,
    StudyState,
    StudySummary,
)
from models.services.restoring import Restored, restore
from models.services.revisions import load_study
from models.services.routing import faster_drive_of, pose_limits_of
from models.services.sharing import create_link, list_links, open_link, revoke_link
from models.services.studies import (
    changes_between,
    create_study,
    duplicate_study,
    list_revisions,
    list_studies,
)
from models.services.whole import whole_evaluation_of
from models.storage import Store, open_store
from models.study.changes import Change

__all__ = [
    "Ballot",
    "BallotRound",
    "Change",
    "DecisionInfo",
    "DecisionRecord",
    "LinkInfo",
    "LinkKind",
    "Outcome",
    "Restored",
    "RevisionInfo",
    "SaveOutcome",
    "SharedView",
    "Store",
    "StudyState",
    "StudySummary",
    "add_arrangement",
    "add_geared",
    "add_outcome",
    "backup",
    "ballot_by_code",
    "ballot_round",
    "ballot_round_of",
    "ballots_of",
    "call_for_ballots",
    "can_weigh",
    "cast_ballot",
    "changes_between",
    "close_ballots",
    "create_link",
    "create_study",
    "decision_of_state",
    "decision_payload",
    "decision_record",
    "duplicate_candidate",
    "duplicate_study",
    "edited_study",
    "evaluation_of",
    "export_study",
    "faster_drive_of",
    "list_ballot_rounds",
    "list_decisions",
    "list_links",
    "list_revisions",
    "list_studies",
    "load_study",
    "matters_of_state",
    "open_ballots",
    "open_link",
    "open_store",
    "pose_limits_of",
    "preview",
    "record_decision",
    "remove_candidate",
    "restore",
    "restore_revision",
    "revoke_link",
    "save_sections",
    "typed_decision_of",
    "whole_evaluation_of",
]
