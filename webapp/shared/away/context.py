"""What a page needs to offer the summary, the picture and the file of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from models.services import StudyState
from models.units import UnitSystem
from webapp.shared.away.brief import brief_of, brief_text
from webapp.shared.away.file_names import file_name
from webapp.shared.links import StudyLinks


@dataclass(frozen=True)
class ChatCard:
    """What a chat shows of a shared link, beside the address that it was sent."""

    title: str
    description: str
    picture: str
    """Path of the picture on this server."""
    alt: str


def chat_card(payload: Mapping[str, Any], state: StudyState, links: StudyLinks) -> ChatCard:
    """Return the card of a shared study, in SI units since a chat has chosen none."""
    brief = brief_of(payload, state, UnitSystem.SI)
    alt = f"Plan of {brief.leader.letter} {brief.leader.name}, verdict, and figures against today's"
    return ChatCard(brief.name, brief.description, links.picture(), alt)


def take_away_context(
    payload: Mapping[str, Any],
    state: StudyState,
    links: StudyLinks,
    system: UnitSystem,
    *,
    address: str = "",
    opened: bool = False,
) -> dict[str, Any]:
    """Return what `take_away.html` shows; `address` is a link for others, "" while there is none.

    `links` are those of the page, or of the viewer whose link was just made; `opened` shows all
    from the start.
    """
    return {
        "take_away_text": brief_text(brief_of(payload, state, system), state, address),
        "take_away_linked": bool(address),
        "take_away_open": opened,
        "take_away_picture": links.picture(),
        "take_away_file": links.study_page_file(),
        "take_away_name": file_name(state.study.name),
    }
