"""What the page of a drawing shows: before one is sent, and while it is placed on the robot."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.drawings.limits import MOST_BYTES, MOST_STEPS
from models.drawings.placing import LayerChoice, PlacedLayer, overall_sizes, placed, take_over
from models.drawings.reading import UP_AXES
from models.drawings.records import UNIT_NAMES, Drawing
from models.errors import Fault, StudyRefusedError
from models.services import StudyState, evaluation_of, preview
from models.study.schema import Candidate
from models.trade.scene import fit_scene
from models.units import UnitSystem, display_unit, show
from webapp.pages.drawings_in.form import SHIFTS, DrawingForm
from webapp.pages.drawings_in.preview import preview_as_sent, preview_on_robot
from webapp.shared.editing import Visit
from webapp.shared.links import StudyLinks

FRONT_WORDS = {"up": "up", "right": "to the right", "down": "down", "left": "to the left"}
MIDDLE_WORDS = {
    "origin": "the drawing's origin",
    "drawn": "the middle of all outlines",
    "frame": "the middle of the layer that becomes the frame",
}
SHIFT_WORDS = {"forward": "Then moved forward", "left": "Then moved left", "lift": "Lifted by"}
WORTH_SAYING_M = 1e-5
OF_CANDIDATES = {"body": "body of", "frame": "frame of"}


@dataclass(frozen=True)
class LayerRow:
    """One layer of the drawing in the table."""

    index: int
    name: str
    found: str
    size: str
    becomes: str
    heights: str
    """In words, where the file gives them; else they are asked for."""
    bottom: str
    top: str
    clearance: str
    faults: Mapping[str, str]


def start_context(
    visit: Visit, state: StudyState, *, refused: str = "", steps: str = "4", up: str = "z"
) -> dict[str, Any]:
    """Return the context of the page before a drawing is sent, or after one was refused."""
    links = StudyLinks.of_state(state)
    return {
        "state": state,
        "links": links,
        "nav": "robot",
        "here": links.drawings(),
        "form": None,
        "refused": refused,
        "summary": [],
        "megabytes": MOST_BYTES // 1_000_000,
        "most_steps": MOST_STEPS,
        "steps": steps,
        "ups": UP_AXES,
        "up": up,
    }


def drawing_context(
    visit: Visit, state: StudyState, form: DrawingForm, faults: Sequence[Fault] = ()
) -> dict[str, Any]:
    """Return the context of the page with a drawing that was read; nothing is stored yet.

    `faults` are shown; those that only a first look would find are not.
    """
    system, drawing = form.system, form.drawing
    choices = form.choices()
    layers = _placed(form, choices)
    shown = _shown_candidate(state, choices)
    by_name = {fault.place: fault.message for fault in faults}
    return {
        **start_context(visit, state),
        "form": form,
        "file_name": form.text("file_name"),
        "packed": drawing.model_dump_json(),
        "mm": display_unit("m", system, small=True),
        "notes": drawing.notes,
        "unit_choices": _unit_choices(drawing, system),
        "hint": UNIT_NAMES[drawing.hint] if drawing.hint else "",
        "becomes_choices": _becomes_choices(state),
        "rows": [_row(form, index, layers, by_name) for index in range(len(drawing.layers))],
        "fronts": FRONT_WORDS,
        "middles": MIDDLE_WORDS,
        "shifts": [
            (name, SHIFT_WORDS[name], form.text(name), by_name.get(name, ""))
            for name in SHIFTS
            if name != "lift" or drawing.kind == "stl"
        ],
        "unit_fault": by_name.get("unit", ""),
        "summary": [(_target(fault.place, drawing), fault.message) for fault in faults],
        "sticks_out": _sticks_out(layers, system),
        "outcome": _outcome(visit, state, form, choices) if layers and not faults else [],
        "view": preview_on_robot(fit_scene(state.study, shown), layers, choices, system)
        if layers
        else preview_as_sent(drawing),
        "once": form.text("once") or secrets.token_urlsafe(12),
        "note": form.text("revision_note"),
        "ask_name": not visit.author,
        "your_name": form.text("your_name"),
    }


def _placed(form: DrawingForm, choices: Sequence[LayerChoice]) -> list[PlacedLayer]:
    """Return the layers on the robot, none while the unit or the middle is not known."""
    placement = form.placement() if form.unit else None
    if placement is None:
        return []
    frames = [choice.layer for choice in choices if choice.becomes == "frame"]
    try:
        return placed(form.drawing, placement, frames)
    except StudyRefusedError:
        return []


def _shown_candidate(state: StudyState, choices: Sequence[LayerChoice]) -> Candidate:
    keys = {candidate.key for candidate in state.study.candidates}
    named = [choice.candidate for choice in choices if choice.candidate in keys]
    return state.study.candidate(named[0]) if named else state.study.baseline


def _unit_choices(drawing: Drawing, system: UnitSystem) -> list[tuple[str, str, str]]:
    return [
        (unit, UNIT_NAMES[unit], f"{show(across, 'm', system)} × {show(along, 'm', system)}")
        for unit, across, along in overall_sizes(drawing)
    ]


def _becomes_choices(state: StudyState) -> list[tuple[str, str]]:
    of_candidates = [
        (f"{kind}:{candidate.key}", f"{words} {candidate.name}")
        for kind, words in OF_CANDIDATES.items()
        for candidate in state.study.candidates
    ]
    return [("ignore", "left out"), ("keepout", "keep-out"), *of_candidates]


def _row(
    form: DrawingForm, index: int, layers: Sequence[PlacedLayer], faults: Mapping[str, str]
) -> LayerRow:
    layer, name = form.drawing.layers[index], f"layers.{index}"
    on_robot = layers[index] if layers else None
    kind, candidate = form.becomes(index)
    found = f"{len(layer.outlines)} outline{'' if len(layer.outlines) == 1 else 's'}"
    if layer.closed > len(layer.outlines):
        found += f" of {layer.closed} loops"
    if layer.open:
        found += f", {layer.open} open line{'' if layer.open == 1 else 's'}"
    if layer.off:
        found += ", switched off"
    return LayerRow(
        index=index,
        name=layer.name,
        found=found,
        size=_size(form, index, on_robot),
        becomes=f"{kind}:{candidate}" if candidate else kind,
        heights=_heights(form, index, on_robot),
        bottom=form.text(f"{name}.bottom"),
        top=form.text(f"{name}.top"),
        clearance=form.text(f"{name}.clearance"),
        faults={
            part: faults[f"{name}.{part}"]
            for part in ("candidate", "bottom", "top", "clearance")
            if f"{name}.{part}" in faults
        },
    )


def _size(form: DrawingForm, index: int, on_robot: PlacedLayer | None) -> str:
    layer = form.drawing.layers[index]
    if not layer.outlines:
        return "nothing closed"
    if on_robot is not None:
        length, width = (
            show(side, "m", form.system) for side in (on_robot.length_m, on_robot.width_m)
        )
        return f"{length} long, {width} wide"
    low_x, low_y, high_x, high_y = layer.extent
    return f"{high_x - low_x:.4g} × {high_y - low_y:.4g}"


def _heights(form: DrawingForm, index: int, on_robot: PlacedLayer | None) -> str:
    layer = form.drawing.layers[index]
    if layer.heights is None:
        return ""
    if on_robot is None or on_robot.heights_m is None:
        return f"{layer.heights[0]:.4g} to {layer.heights[1]:.4g}"
    low, high = (show(height, "m", form.system) for height in on_robot.heights_m)
    return f"{low} to {high}"


def _sticks_out(layers: Sequence[PlacedLayer], system: UnitSystem) -> str:
    most = max((layer.sticks_out_m for layer in layers), default=0.0)
    return show(most, "m", system, digits=2) if most > WORTH_SAYING_M else ""


def _outcome(
    visit: Visit, state: StudyState, form: DrawingForm, choices: Sequence[LayerChoice]
) -> list[str]:
    """Return in sentences what the drawing would do to the fit of each candidate."""
    placement = form.placement()
    if placement is None or all(choice.becomes == "ignore" for choice in choices):
        return []
    try:
        taken = take_over(state.document, form.drawing, placement, choices)
        _, payload = preview(visit.store, state, dict(taken.edits))
    except StudyRefusedError:
        return []
    before = {
        candidate["key"]: candidate["metrics"].get("fits")
        for candidate in evaluation_of(visit.store, state)["candidates"]
    }
    return [
        f"{candidate['name']}: "
        + _fit_words(before.get(candidate["key"]), candidate["metrics"].get("fits"))
        for candidate in payload["candidates"]
    ]


def _fit_words(before: bool | None, fits: bool | None) -> str:
    """Return how a candidate fits, and whether that is new.

    >>> _fit_words(True, False), _fit_words(None, True)
    ('no longer fits', 'fits')
    """
    if fits is None:
        return "no bodies or keep-outs, so the fit is not known"
    if fits:
        return "now fits, it did not before" if before is False else "fits"
    if before is None:
        return "does not fit"
    return "no longer fits" if before else "does not fit, as before"


def _target(place: str, drawing: Drawing) -> str:
    """Return the id of the box that a fault is about, "" where the page has none."""
    if place in {"unit", "middle", "forward", "left"} or (place, drawing.kind) == ("lift", "stl"):
        return f"f-{place}"
    head, _, rest = place.partition(".")
    index, _, part = rest.partition(".")
    if head != "layers" or not index.isdigit() or int(index) >= len(drawing.layers):
        return ""
    if part in {"bottom", "top"} and drawing.layers[int(index)].heights is not None:
        part = ""
    return f"f-layers-{index}-{'becomes' if part in {'', 'candidate'} else part}"
