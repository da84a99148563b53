"""Reads a drawing in a child process with limits on time, memory and contents."""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
import tempfile
import threading
from pathlib import Path, PurePath

import models
from models.drawings.limits import MOST_BYTES, MOST_STEPS, WALL_S, DrawingRefusedError
from models.drawings.records import Drawing, parse_drawing

log = logging.getLogger("switchover")

UP_AXES = ("z", "y", "x")
AT_ONCE = 2
"""Drawings read at the same time, so that the server keeps processor and memory for others."""
PATIENCE_S = 3.0

_slots = threading.BoundedSemaphore(AT_ONCE)


def read_drawing(file_name: str, content: bytes, *, steps: int = 4, up: str = "z") -> Drawing:
    """Return the outlines in a DXF or STL file, told apart by the ending of its name.

    `steps` and `up` are for a mesh: how many height steps, and which of the file's axes points
    up. Raises `DrawingRefusedError` with a sentence where the file is of another kind, too large,
    cannot be read, or takes more than the limits of `models.drawings.limits`.
    """
    kind = kind_of(file_name)
    check_size(len(content))
    if up not in UP_AXES or not 1 <= steps <= MOST_STEPS:
        raise DrawingRefusedError(f"A mesh is cut into 1 to {MOST_STEPS} height steps.")
    stem = "".join(sign for sign in PurePath(file_name).stem if sign.isprintable()).strip()[:60]
    if not _slots.acquire(timeout=PATIENCE_S):
        raise DrawingRefusedError(
            "Other drawings are being read at this moment. Nothing is lost; send it again."
        )
    try:
        answer = _ask_child(
            kind, content, [str(steps), up, stem or "mesh"] if kind == "stl" else []
        )
    finally:
        _slots.release()
    if "refused" in answer:
        raise DrawingRefusedError(str(answer["refused"]))
    return parse_drawing(json.dumps(answer["drawing"]))


def check_size(size: int) -> None:
    """Refuse a file that is empty or has more than `MOST_BYTES`; `size` in bytes."""
    if not size:
        raise DrawingRefusedError("This file is empty. Save the drawing again and send that.")
    if size > MOST_BYTES:
        raise DrawingRefusedError(
            f"This file has {size / 1e6:.1f} MB; {MOST_BYTES / 1e6:.0f} MB at most are read. "
            "Save a copy that holds only the outlines you need."
        )


def kind_of(file_name: str) -> str:
    """Return which kind of drawing a file is, by its ending.

    >>> kind_of("Base plate.DXF")
    'dxf'
    """
    kind = PurePath(file_name).suffix.lower().removeprefix(".")
    if kind not in {"dxf", "stl"}:
        raise DrawingRefusedError(
            "Outlines are read from DXF drawings and STL meshes, told by the ending of the name. "
            "Save the drawing as one of them."
        )
    return kind


def _ask_child(kind: str, content: bytes, options: list[str]) -> dict[str, object]:
    with tempfile.TemporaryDirectory(prefix="drawing-") as folder:
        file = Path(folder) / f"drawing.{kind}"
        file.write_bytes(content)
        try:
            done = subprocess.run(  # noqa: S603  (our own module; the file name is ours too)
                [sys.executable, "-m", "models.drawings.child", kind, str(file), *options],
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=WALL_S,
                cwd=folder,
                env=_bare_environment(folder),
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise _too_slow() from None
    if done.returncode == 0:
        answer: dict[str, object] = json.loads(done.stdout)
        return answer
    last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
    log.warning("reading a %s ended with %s: %s", kind, done.returncode, last)
    if done.returncode < 0:
        raise _too_slow()
    raise DrawingRefusedError(
        f"This {kind.upper()} file has something in it that cannot be read. Save a copy that "
        "holds only the outlines you need, with blocks exploded."
    )


def _too_slow() -> DrawingRefusedError:
    return DrawingRefusedError(
        f"Reading this drawing took longer than {WALL_S:g} seconds, so it was stopped. Save a "
        "copy that holds only the outlines you need."
    )


def _bare_environment(folder: str) -> dict[str, str]:
    """Return the child's environment: what it needs to start, and no secret of the server."""
    root = Path(models.__file__).resolve().parent.parent
    kept = {name: os.environ[name] for name in ("SYSTEMROOT", "PATH") if name in os.environ}
    return {
        **kept,
        "PYTHONPATH": str(root),
        "PYTHONIOENCODING": "utf-8",
        "HOME": folder,
        "USERPROFILE": folder,
        "OPENBLAS_NUM_THREADS": "1",
    }
