"""Give out the plan of a candidate in a pose as DXF or SVG, in millimetres."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from models.drawings.writing import plan_dxf, plan_svg
from models.services import Store, load_study
from models.trade.scene import Scene, fit_scene
from webapp.access import store

router = APIRouter(prefix="/studies/{study_id}/fit")
Opened = Annotated[Store, Depends(store)]


@router.get("/plan.dxf")
def plan_as_dxf(
    study_id: str, store: Opened, candidate: str | None = None, pose: str | None = None
) -> Response:
    """Give out the plan as DXF, its layers named."""
    scene = _scene(store, study_id, candidate, pose)
    return _download(plan_dxf(scene), "image/vnd.dxf", scene, "dxf")


@router.get("/plan.svg")
def plan_as_svg(
    study_id: str, store: Opened, candidate: str | None = None, pose: str | None = None
) -> Response:
    """Give out the plan as SVG, one group a layer."""
    scene = _scene(store, study_id, candidate, pose)
    return _download(plan_svg(scene), "image/svg+xml", scene, "svg")


def _scene(store: Store, study_id: str, candidate: str | None, pose: str | None) -> Scene:
    study = load_study(store, study_id).study
    return fit_scene(study, study.candidate(candidate) if candidate else study.baseline, pose)


def _download(text: str, media_type: str, scene: Scene, ending: str) -> Response:
    words = f"plan {scene.candidate} {scene.pose}"
    plain = "".join(sign.lower() if sign.isascii() and sign.isalnum() else " " for sign in words)
    disposition = f'attachment; filename="{"-".join(plain.split())[:60]}.{ending}"'
    return Response(
        text.encode("utf-8", "replace"),
        media_type=media_type,
        headers={"content-disposition": disposition},
    )
