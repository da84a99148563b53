"""Answer times of the server under eight clients: the overview, and the live recompute.

    python tests/benchmarks/load.py

Starts a server of its own over a fresh database with the example study, warms it, and prints the
median and the 95th percentile. Aim, on two cores: overview 100 ms, live recompute 60 ms (95 %).
"""

from __future__ import annotations

import argparse
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from html import unescape
from pathlib import Path

import httpx2 as httpx

ROOT = Path(__file__).resolve().parents[2]
FIELD = re.compile(
    r"<input\b(?P<input>[^>]*)>|<select\b(?P<select>[^>]*)>(?P<options>.*?)</select>", re.DOTALL
)


def main() -> int:
    """Run the measurement and print one line for each kind of request."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--requests", type=int, default=40, help="requests of each client")
    parser.add_argument("--pause", type=float, default=0.25, help="seconds between two of them")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        server = start_server(Path(folder) / "load.sqlite3")
        try:
            study = address_said_by(server)
            key = other_candidate(study)
            measure("overview", options, lambda: ask_overview(study))
            measure("live recompute", options, lambda: ask_live(study, key))
        finally:
            server.terminate()
            server.wait(timeout=20)
    return 0


def start_server(database: Path) -> subprocess.Popen[str]:
    """Start the demo as a program of its own."""
    command = [sys.executable, "-m", "webapp", "demo", "--no-browser", "--database", str(database)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def address_said_by(server: subprocess.Popen[str]) -> str:
    """Return the address of the example study, as the server says it."""
    assert server.stdout is not None
    for line in server.stdout:
        found = re.search(r"http://\S+", line)
        if found:
            return found[0]
    raise SystemExit("the server ended without saying where it is")


def other_candidate(study: str) -> str:
    """Return the key of the second candidate of the study."""
    document = httpx.get(f"{study}/study.json").json()
    return str(document["candidates"][1]["key"])


def ask_overview(study: str) -> Callable[[int], float]:
    """Return what one client does: ask for the overview."""
    client = httpx.Client(timeout=30)

    def ask(_number: int) -> float:
        return timed(lambda: client.get(study))

    return ask


def ask_live(study: str, key: str) -> Callable[[int], float]:
    """Return what one client does: type another ratio each time, all inputs sent along."""
    client = httpx.Client(timeout=30)
    address = f"{study}/candidates/{key}"
    fields = form_fields(client.get(address).text)
    own = threading.get_ident() % 1000

    def ask(number: int) -> float:
        typed = {**fields, "drive.ratio": [f"{5 + own / 1000 + number / 100:.4f}"],
                 "seq": [str(number + 1)]}  # fmt: skip
        return timed(lambda: client.post(f"{address}/live", data=typed))

    return ask


def form_fields(page: str) -> dict[str, list[str]]:
    """Return the inputs of the candidate's form as a browser would send them."""
    form = page[page.index('<form id="sheet"') :]
    form = form[: form.index("</form>")]
    fields: dict[str, list[str]] = {}
    for found in FIELD.finditer(form):
        tag = found["input"] or found["select"]
        name = attribute(tag, "name")
        if not name:
            continue
        if found["input"] is None:
            chosen = re.search(r'<option value="([^"]*)" selected', found["options"])
            value = unescape(chosen[1]) if chosen else ""
        elif attribute(tag, "type") in ("checkbox", "radio") and "checked" not in tag:
            continue
        else:
            value = attribute(tag, "value")
        fields.setdefault(name, []).append(value)
    return fields


def attribute(tag: str, name: str) -> str:
    """Return an attribute of a tag, "" where it has none."""
    found = re.search(rf'\b{name}="([^"]*)"', tag)
    return unescape(found[1]) if found else ""


def timed(ask: Callable[[], httpx.Response]) -> float:
    """Return how long one answer took, in seconds; anything but 200 ends the measurement."""
    began = time.perf_counter()
    answer = ask()
    took = time.perf_counter() - began
    if answer.status_code != 200:
        raise SystemExit(f"answered {answer.status_code}: {answer.text[:300]}")
    return took


def measure(
    name: str, options: argparse.Namespace, make: Callable[[], Callable[[int], float]]
) -> None:
    """Let all clients ask at once, each in a thread, and print the times."""
    times: list[float] = []
    lock = threading.Lock()

    def client(start: float) -> None:
        ask = make()
        for number in range(3):
            ask(number)
        time.sleep(start)
        for number in range(options.requests):
            took = ask(number + 3)
            with lock:
                times.append(took)
            time.sleep(options.pause)

    stagger = options.pause / options.clients
    threads = [
        threading.Thread(target=client, args=(index * stagger,)) for index in range(options.clients)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if len(times) != options.clients * options.requests:
        raise SystemExit(f"{name}: some clients were not answered")
    ordered = sorted(1000 * took for took in times)
    p95 = ordered[int(0.95 * len(ordered))]
    sys.stdout.write(
        f"{name}: {len(ordered)} answers to {options.clients} clients, "
        f"median {statistics.median(ordered):.0f} ms, 95 % within {p95:.0f} ms, "
        f"longest {ordered[-1]:.0f} ms\n"
    )


if __name__ == "__main__":
    raise SystemExit(main())
