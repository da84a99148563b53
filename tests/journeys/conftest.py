"""A server of its own on a free port, and a real browser that watches every page it opens."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from webapp.app import create_app
from webapp.cli import example_study_id
from webapp.settings import Settings

HERE = Path(__file__).resolve().parent
AXE = (HERE / "vendor" / "axe-core-4.14.1.min.js").read_text(encoding="utf-8")
NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
    "microsoft-edge",
)
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
FLAGS = [
    "--no-sandbox",  # root, as in CI, may not have one
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
]
WAIT_MS = 15_000


def browser_program() -> str | None:
    """Return the Chromium or a relative of it on this machine."""
    found = (shutil.which(name) for name in NAMES)
    present = (place for place in PLACES if Path(place).exists())
    return next((path for path in found if path), None) or next(present, None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@dataclass
class Server:
    """A running server: its address, its app, and the example study in it."""

    address: str
    app: Any
    study_id: str

    @property
    def study(self) -> str:
        return f"{self.address}/studies/{self.study_id}"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A server over a fresh database that holds the example study."""
    path = tmp_path / "journey.sqlite3"
    app = create_app(Settings(database_url=f"sqlite:///{path.as_posix()}"))
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        running = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False))
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        until = time.monotonic() + 30
        while not running.started:
            assert thread.is_alive() and time.monotonic() < until, "the server did not start"
            time.sleep(0.02)
        port = listener.getsockname()[1]
        yield Server(f"http://localhost:{port}", app, example_study_id(app.state.store))
        running.should_exit = True
        thread.join(timeout=20)
        assert not thread.is_alive(), "the server did not stop"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless browser for the session; each profile in it is a context of its own."""
    program = browser_program()
    if program is None:
        pytest.skip("no Chromium or Chrome on this machine, so no browser journey is made")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=FLAGS, headless=True)
        yield opened
        opened.close()


@dataclass
class Watched:
    """What a browser did on its pages that none of ours should make it do."""

    elsewhere: list[str] = field(default_factory=list)
    violations: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def nothing(self) -> bool:
        return not (self.elsewhere or self.violations or self.faults)


Profile = Callable[..., BrowserContext]


@pytest.fixture
def profile(browser: Browser, server: Server) -> Iterator[Profile]:
    """Makes fresh browser profiles; at the end none of them may have left the server's address,
    broken the content policy, met a script error or got a failing answer."""
    contexts: list[BrowserContext] = []
    watched = Watched()

    def make(**options: Any) -> BrowserContext:
        options.setdefault("viewport", {"width": 1280, "height": 900})
        context = browser.new_context(base_url=server.address, **options)
        context.set_default_timeout(WAIT_MS)
        watch(context, server.address, watched)
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()
    assert watched.nothing(), watched


def watch(context: BrowserContext, address: str, watched: Watched) -> None:
    """Note every request elsewhere, every break of the content policy and every fault."""
    own = (address + "/", "data:", "blob:", "about:")

    def on_request(request: Any) -> None:
        if not request.url.startswith(own):
            watched.elsewhere.append(request.url)

    def on_response(response: Any) -> None:
        if response.status >= 500:
            watched.faults.append(f"{response.status} {response.url}")

    def on_console(message: Any) -> None:
        if "Content Security Policy" in message.text:
            watched.violations.append(message.text)

    context.on("request", on_request)
    context.on("response", on_response)
    context.on("console", on_console)
    context.on("weberror", lambda error: watched.faults.append(str(error.error)))

    def note_violation(words: str) -> None:
        watched.violations.append(words)

    context.expose_function("noteViolation", note_violation)
    context.add_init_script(
        "document.addEventListener('securitypolicyviolation', (event) => "
        "noteViolation(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`));"
    )


@pytest.fixture
def page(profile: Profile) -> Page:
    """A page in a fresh profile."""
    return profile().new_page()


def axe_findings(page: Page) -> list[str]:
    """Return what axe-core finds wrong on the page as it stands, a line a finding."""
    if not page.evaluate("typeof axe !== 'undefined'"):
        page.evaluate(AXE)
    found = page.evaluate(
        "() => axe.run(document, {resultTypes: ['violations'], "
        "runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
    )
    return [
        f"{one['id']}: {one['help']}: {node['target']} {node['html'][:160]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


@pytest.fixture
def axe() -> Callable[[Page], list[str]]:
    return axe_findings


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proxy of the machine's must not stand between the browser and this server."""
    for name in list(os.environ):
        if name.lower() in ("http_proxy", "https_proxy", "all_proxy"):
            monkeypatch.delenv(name)
