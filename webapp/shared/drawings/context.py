"""From a scene in metres to what a page prints: the drawing of a fit, and small plans."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from models.study.schema import Study
from models.trade.scene import Scene, SceneGap, fit_scene
from models.units import UnitSystem
from webapp.shared.drawings.shapes import VIEW_WIDTH, Point, Projection, View
from webapp.shared.drawings.views import plan_shapes, plan_view, scale_for, side_view

THUMBNAIL_MARGIN = 20.0


@dataclass(frozen=True)
class Drawing:
    """Plan and side view of one scene at one scale, to be printed at one width."""

    plan: View
    side: View


def drawing_of(
    scene: Scene,
    system: UnitSystem,
    *,
    rows: Sequence[tuple[int, SceneGap]] = (),
    lit: SceneGap | None = None,
) -> Drawing:
    """Return plan and side view of a scene.

    `rows` are the pairs that get a measure line, each with the number of its row in a list; `lit`
    is the pair that is lit from the start.
    """
    scale = scale_for(scene)
    return Drawing(
        plan=plan_view(scene, system, scale, lit=lit, rows=rows),
        side=side_view(scene, system, scale, lit=lit, rows=rows),
    )


@dataclass(frozen=True)
class _Hashed:
    """A study that is known by its document's hash alone, so that its plans can be kept."""

    document_hash: str
    study: Study = field(compare=False)


def thumbnails_of(study: Study, keys: Sequence[str], document_hash: str) -> dict[str, View]:
    """Return a small plan of each candidate, all at one scale, travelling pose."""
    return _kept_thumbnails(_Hashed(document_hash, study), tuple(keys))


@lru_cache(maxsize=32)
def _kept_thumbnails(hashed: _Hashed, keys: tuple[str, ...]) -> dict[str, View]:
    scenes = {key: fit_scene(hashed.study, hashed.study.candidate(key)) for key in keys}
    return small_plans(scenes)


def small_plans(scenes: dict[str, Scene]) -> dict[str, View]:
    """Return plans without words for a row of scenes, all at one scale."""
    if not scenes:
        return {}
    low_u, high_u, low_w, high_w = _reach(scenes.values())
    scale = (VIEW_WIDTH - 2 * THUMBNAIL_MARGIN) / max(high_u - low_u, high_w - low_w)
    middle = (low_u + high_u) / 2
    on = Projection(scale, (VIEW_WIDTH / 2 - middle * scale, THUMBNAIL_MARGIN + high_w * scale))
    height = (high_w - low_w) * scale + 2 * THUMBNAIL_MARGIN
    return {
        key: View(
            "plan",
            _small_title(scene),
            "",
            VIEW_WIDTH,
            round(height, 1),
            shapes=plan_shapes(scene, on, parts=False),
        )
        for key, scene in scenes.items()
    }


def _reach(scenes: Iterable[Scene]) -> tuple[float, float, float, float]:
    """Return the least and greatest place, across and along, of what small plans draw."""
    points: list[Point] = []
    for scene in scenes:
        points += scene.frame
        points += [point for wheel in scene.wheels for point in wheel.outline]
        points += [point for body in scene.bodies for point in body.outline]
        points += [point for keepout in scene.keepouts for point in keepout.outline]
    across = [-point[1] for point in points]
    along = [point[0] for point in points]
    return min(across), max(across), min(along), max(along)


def _small_title(scene: Scene) -> str:
    if not scene.fit_known:
        return f"Plan of {scene.candidate_name}; the fit is not known"
    bad = sum(gap.conflict for gap in scene.gaps)
    if not bad:
        return f"Plan of {scene.candidate_name}; it fits"
    return f"Plan of {scene.candidate_name}; {bad} conflict{'s' if bad > 1 else ''}"
