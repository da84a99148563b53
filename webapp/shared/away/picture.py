"""The picture that a chat shows for a shared link: 1200 by 630 pixels, drawn without a browser."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from models.services import StudyState
from models.trade.scene import fit_scene
from models.units import UnitSystem
from webapp.shared.away.brief import Brief, BriefFigure, brief_of, figures_of_words
from webapp.shared.away.lettering import FAMILY, broken, font_paths, text_width
from webapp.shared.drawings.context import small_plans
from webapp.shared.drawings.shapes import View
from webapp.templating import environment

WIDTH, HEIGHT = 1200, 630
EDGE = 56.0
TEXT_WIDTH = 690.0
PLAN_BOX = (790.0, 112.0, 354.0, 318.0)
"""Left, top, width, height of the room for the plan."""
FIGURES_TOP = 486.0
NAME_SIZES = (19.0, 17.5, 16.0)
FIGURE_WIDTH = (WIDTH - 2 * EDGE) / 4
LEAD_SIZES = ((34.0, 6), (30.0, 7), (26.0, 8))
"""Sizes of the verdict and the lines they leave room for, largest first."""
DIFFERENCE_SIGNS = {"better": "✓ ", "worse": "! "}


@dataclass(frozen=True)
class Line:
    """One line of text."""

    x: float
    y: float
    text: str
    css: str
    size: float = 0.0


@dataclass(frozen=True)
class _Asked:
    """A summary with the plan it needs, known by document, model and units."""

    document_hash: str
    model_version: str
    system: UnitSystem
    brief: Brief = field(compare=False)
    state: StudyState = field(compare=False)


def chat_picture(payload: Mapping[str, Any], state: StudyState, system: UnitSystem) -> bytes:
    """Return the picture as PNG: name, verdict, plan of the leader, four figures against today's.

    The letters come from the vendored font alone, so that it looks the same on every server.
    """
    brief = brief_of(payload, state, system)
    version = str(payload["model_version"])
    return _png(_Asked(state.revision.hash, version, system, brief, state))


@lru_cache(maxsize=16)
def _png(asked: _Asked) -> bytes:
    import resvg_py  # noqa: PLC0415  (heavy)

    drawing = picture_svg(asked.brief, asked.state, asked.system)
    png: bytes = resvg_py.svg_to_bytes(
        svg_string=drawing,
        width=WIDTH,
        height=HEIGHT,
        skip_system_fonts=True,
        font_files=font_paths(),
        font_family=FAMILY,
        sans_serif_family=FAMILY,
    )
    return png


def picture_svg(brief: Brief, state: StudyState, system: UnitSystem) -> str:
    """Return the picture as SVG."""
    scene = fit_scene(state.study, state.study.candidate(brief.leader.key))
    plan = small_plans({brief.leader.key: scene})[brief.leader.key]
    left, top, width, height = PLAN_BOX
    scale = min(width / plan.width, height / plan.height)
    context = {
        "width": WIDTH,
        "height": HEIGHT,
        "family": FAMILY,
        "lines": [
            *_words(brief, state),
            *_plan_words(brief),
            *_figures(brief.figures),
            *_foot(brief),
        ],
        "rule": f"M{EDGE} {FIGURES_TOP - 34}H{WIDTH - EDGE}",
        "plan": _without_words(plan),
        "at": f"{left + (width - plan.width * scale) / 2:.1f} "
        f"{top + (height - plan.height * scale) / 2:.1f}",
        "scale": round(scale, 4),
    }
    return environment(system).get_template("shared/away/picture.svg").render(context)


def _words(brief: Brief, state: StudyState) -> Iterator[Line]:
    """Yield the name of the study, the verdict under it, and which revision it is."""
    revision = f"Switchover · revision {state.revision.number}"
    yield Line(EDGE, 68.0, revision, "faint", 20.0)
    y = 118.0
    for line in broken(clean(brief.name), 40.0, TEXT_WIDTH, most=2, bold=True):
        yield Line(EDGE, y, line, "name", 40.0)
        y += 48.0
    y += 8.0
    room = FIGURES_TOP - 50.0 - y
    size, lines = next(
        (
            (size, lines)
            for size, most in LEAD_SIZES
            if len(lines := broken(clean(brief.lead), size, TEXT_WIDTH))
            <= min(most, int(room / (size * 1.32)))
        ),
        (0.0, []),
    )
    if not lines:
        size = LEAD_SIZES[-1][0]
        most = max(int(room / (size * 1.32)), 1)
        lines = broken(clean(brief.lead), size, TEXT_WIDTH, most=most)
    for line in lines:
        yield Line(EDGE, round(y, 1), line, "lead", size)
        y += size * 1.32


def _plan_words(brief: Brief) -> Iterator[Line]:
    """Yield whose plan it is, over the drawing."""
    left, top, width, _height = PLAN_BOX
    today = " (today)" if brief.leader.baseline else ""
    words = clean(f"{brief.leader.letter}  {brief.leader.name}{today}")
    for line in broken(words, 24.0, width, most=1, bold=True):
        yield Line(left, top - 26.0, line, "name", 24.0)


def _figures(figures: Sequence[BriefFigure]) -> Iterator[Line]:
    """Yield the headline figures side by side along the foot."""
    for place, figure in enumerate(figures):
        x = EDGE + place * FIGURE_WIDTH
        room = FIGURE_WIDTH - 20.0
        name = clean(figure.name)
        size = next((size for size in NAME_SIZES if text_width(name, size) <= room), NAME_SIZES[-1])
        for line in broken(name, size, room, most=1):
            yield Line(x, FIGURES_TOP + 10.0, line, "faint", size)
        for line in broken(clean(figure.value), 36.0, room, most=1, bold=True):
            yield Line(x, FIGURES_TOP + 58.0, line, "name", 36.0)
        words = DIFFERENCE_SIGNS.get(figure.verdict, "") + (figure.difference or "today")
        css = {"better": "better", "worse": "worse"}.get(figure.verdict, "faint")
        for line in broken(clean(words), 20.0, room, most=1):
            yield Line(x, FIGURES_TOP + 90.0, line, css, 20.0)


def _foot(brief: Brief) -> Iterator[Line]:
    words = f"{figures_of_words(brief)} · all figures are estimates"
    for line in broken(clean(words), 17.0, WIDTH - 2 * EDGE, most=1):
        yield Line(EDGE, HEIGHT - 20.0, line, "faint", 17.0)


def clean(text: str) -> str:
    """Return text that may stand in XML: control characters become spaces.

    >>> clean("a\\x00b")
    'a b'
    """
    kept = "".join(sign if sign.isprintable() or sign == "\u00a0" else " " for sign in text)
    return kept.encode("utf-8", "replace").decode()


def _without_words(plan: View) -> list[tuple[str, str, bool]]:
    """Return the outlines of a plan: style class, path, whether it is hatched."""
    hidden = ("drawn-clearance", "drawn-support", "drawn-inverted")
    return [
        (shape.css, shape.path, shape.hatched)
        for shape in plan.shapes
        if not shape.css.startswith(hidden)
    ]
