"""Drawings made by the libraries' own writers, and a child process whose memory is measured."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new

ROOT = Path(__file__).resolve().parents[3]
MEASURED = """
import json, resource, subprocess, sys
done = subprocess.run(sys.argv[1:], capture_output=True, timeout=30)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
figures = [used.ru_maxrss * 1024, used.ru_utime + used.ru_stime]
print(json.dumps([done.returncode, done.stdout.decode(), *figures]))
"""


@pytest.fixture
def draw() -> Callable[[Callable[[Any, Any], None]], bytes]:
    """Returns the bytes of a DXF drawn by a function of (document, model space)."""

    def make(drawer: Callable[[Any, Any], None], **options: Any) -> bytes:
        document = new("R2010", **options)
        drawer(document, document.modelspace())
        file = io.StringIO()
        document.write(file)
        return file.getvalue().encode()

    return make


@pytest.fixture
def measured(tmp_path: Path) -> Callable[..., tuple[int, dict[str, Any], int, float]]:
    """Runs the child on a file: exit code, its answer, its greatest memory, its processor time."""

    def run(kind: str, content: bytes, *options: str) -> tuple[int, dict[str, Any], int, float]:
        file = tmp_path / f"drawing.{kind}"
        file.write_bytes(content)
        child = [sys.executable, "-m", "models.drawings.child", kind, str(file), *options]
        done = subprocess.run(
            [sys.executable, "-c", MEASURED, *child],
            capture_output=True,
            cwd=ROOT,
            check=True,
            timeout=40,
            env={"OPENBLAS_NUM_THREADS": "1", "HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
        )
        code, printed, memory, seconds = json.loads(done.stdout)
        answer = json.loads(printed) if printed else {}
        return code, answer, memory, seconds

    return run
