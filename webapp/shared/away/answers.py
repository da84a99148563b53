"""Files as answers: to be saved, never to be shown as a page of this server."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi.responses import Response

from models.services import StudyState
from models.units import UnitSystem
from webapp.shared.away.file_names import file_name
from webapp.shared.away.picture import chat_picture


def download(content: bytes, media_type: str, name: str, ending: str) -> Response:
    """Return a file that a browser saves under the study's name."""
    disposition = f'attachment; filename="{file_name(name)}.{ending}"'
    headers = {"content-disposition": disposition}
    return Response(content, media_type=media_type, headers=headers)


def picture_answer(
    payload: Mapping[str, Any], state: StudyState, units: UnitSystem, *, abroad: bool = False
) -> Response:
    """Return the picture of a study; `abroad` lets a chat's page show it as well."""
    headers = {"content-disposition": f'inline; filename="{file_name(state.study.name)}.png"'}
    if abroad:
        headers["cross-origin-resource-policy"] = "cross-origin"
    return Response(chat_picture(payload, state, units), media_type="image/png", headers=headers)
