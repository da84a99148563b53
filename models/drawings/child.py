"""The child process that reads one drawing under limits and prints what it found as JSON.

    python -m models.drawings.child dxf FILE
    python -m models.drawings.child stl FILE STEPS UP NAME

A drawing comes from outside and may be made to hurt: it can ask for endless time or memory, or
crash a library. Here that ends this process only. Where the system has no limits of its own
(Windows), the caps on contents and the caller's time limit remain.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from models.drawings.limits import CPU_S, MEMORY_BYTES, DrawingRefusedError

TOO_MUCH_MEMORY = (
    f"Reading this drawing takes more than {MEMORY_BYTES // 1_000_000} MB of memory. Save a copy "
    "that holds only the outlines you need."
)


def limit_this_process() -> bool:
    """Cap this process's time, memory and files; return False where the system cannot."""
    try:
        import resource  # noqa: PLC0415  (not on Windows)
    except ImportError:
        return False
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    return True


def read(kind: str, path: Path, *options: str) -> dict[str, Any]:
    """Return the drawing in a file, or the sentence with which it is refused."""
    try:
        if kind == "dxf":
            from models.drawings.dxf import read_dxf  # noqa: PLC0415  (heavy)

            return {"drawing": read_dxf(path)}
        from models.drawings.stl import read_stl  # noqa: PLC0415  (heavy)

        return {"drawing": read_stl(path, int(options[0]), options[1], options[2])}
    except DrawingRefusedError as refused:
        return {"refused": str(refused)}
    except MemoryError:
        return {"refused": TOO_MUCH_MEMORY}


def main(arguments: list[str]) -> int:
    """Read the drawing that the arguments name and print the outcome."""
    limit_this_process()
    # Nothing of it is used, and with it in reach the mesh library takes twice as long to load.
    sys.modules["scipy"] = None  # type: ignore[assignment]
    kind, path, *options = arguments
    answer = json.dumps(read(kind, Path(path), *options), allow_nan=False)
    sys.stdout.write(answer)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
