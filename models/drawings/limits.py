"""How much a drawing may hold, and what reading it may take; a refusal names the limit."""

from __future__ import annotations

from models.errors import SwitchoverError

MOST_BYTES = 20_000_000
"""Size of a drawing file."""
WALL_S = 4.6
"""Time from starting the child process to its answer; with the rest an upload stays below 5 s."""
CPU_S = 5
"""Processor time of the child process, where the system can limit it."""
MEMORY_BYTES = 480_000_000
"""Address space of the child process, where the system can limit it."""
MOST_PIECES = 40_000
"""Corners and curves of a DXF with all its blocks resolved."""
DEEPEST_NESTING = 16
"""Blocks inside blocks."""
MOST_TRIANGLES = 100_000
MOST_STEPS = 12
"""Height steps of a mesh."""
MOST_LAYERS = 60
MOST_OUTLINES = 40
"""Outlines kept of a layer, the largest ones."""
MOST_POINTS = 100
"""Corners of an outline."""
MOST_POINTS_IN_ALL = 12_000
FURTHEST = 1e10
"""Coordinates in the file's own unit."""
LONGEST_NAME = 80
FLATTENING_SHARE = 1 / 8000
"""Greatest distance of a chord from its curve, as a share of the layer's overall size."""
MESH_SHARE = 1e-6
"""First step in simplifying the outline of a mesh, as a share of its size."""


class DrawingRefusedError(SwitchoverError):
    """A drawing that cannot be read or holds too much; the sentence says what to do."""
