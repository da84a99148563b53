"""Pages from templates: always escaped, strict about what is missing, one block alone if wanted."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from functools import cache, partial
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from models.units import UnitSystem, display_unit, show, show_bare
from webapp.access import (
    TOKEN_FIELD,
    app_settings,
    author_name,
    form_token,
    keep_form_token,
    ranges_shown,
    unit_system,
)
from webapp.paths import PACKAGE, data_folder
from webapp.shared.away.code import code_of
from webapp.shared.links import StudyLinks
from webapp.shared.navigation import study_pages

BASE_CONTEXT: dict[str, Any] = {
    "state": None,
    "links": None,
    "nav": "",
    "card": None,
}
"""What the base template reads, unless the page gives it.

`state`: the `StudyState` on the page (its name, revision and navigation are shown); `links`: made
from `state` where not given; `nav`: key of the page in the navigation ("overview", "robot",
"givens", "candidates", "fit", "charts", "history", "share"); `card`: what a chat shows of a shared
link.
"""


def render(
    request: Request,
    template: str,
    context: Mapping[str, Any],
    *,
    status: int = 200,
    block: str | None = None,
) -> HTMLResponse:
    """Render a template, or one of its blocks as a fragment, with what every page gets.

    Every context has: request, units, author, csrf_token, state, links, nav, viewer (true where
    nothing may be edited), here (the address of this page). A variable that a template reads and
    nobody gave is an error. A block rendered alone has to do its own imports: what stands outside
    of it is not run.
    """
    full = page_context(request, context)
    page = environment(full["units"]).get_template(template)
    if block is None:
        html = page.render(full)
    else:
        html = "".join(page.blocks[block](page.new_context(full)))
    response = HTMLResponse(html, status_code=status)
    keep_form_token(request, response)
    return response


def page_context(request: Request, context: Mapping[str, Any]) -> dict[str, Any]:
    """Return a page's context together with what every page gets."""
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    full: dict[str, Any] = {
        **BASE_CONTEXT,
        "request": request,
        "units": unit_system(request),
        "author": author_name(request),
        "ranges": ranges_shown(request),
        "csrf_token": form_token(request),
        "here": here,
        "viewer": request.url.path.startswith(("/shared/", "/ballots/")),
        **context,
    }
    if full["links"] is None and full["state"] is not None:
        full["links"] = StudyLinks.of_state(full["state"])
    return full


@cache
def environment(units: UnitSystem) -> Environment:
    """Return the template environment that shows quantities in the given units.

    One environment for each system, so that the filters work in imported macros too.
    """
    made = Environment(
        loader=FileSystemLoader(PACKAGE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.do"],
    )
    made.filters.update(
        quantity=partial(_quantity, show, units),
        bare=partial(_quantity, show_bare, units),
        moment=moment,
        moment_with_zone=moment_with_zone,
        day=day,
        script_data=script_data,
    )
    made.globals.update(
        static=static_address,
        unit_label=partial(_unit_label, units),
        UnitSystem=UnitSystem,
        csrf_field=csrf_field,
        study_pages=study_pages,
        site_of=site_of,
        code_of=code_of,
        now=partial(datetime.now, UTC),
    )
    return made


def _quantity(
    shower: Any, units: UnitSystem, value: float | None, unit: str, **options: Any
) -> str:
    text: str = shower(value, unit, units, **options)
    return text


def _unit_label(units: UnitSystem, unit: str, *, small: bool = False) -> str:
    return display_unit(unit, units, small=small)


def site_of(request: Request) -> str:
    """Return what addresses for other people begin with: as set, else as the request has it."""
    return app_settings(request).base_url or str(request.base_url).rstrip("/")


@pass_context
def csrf_field(context: Context) -> Markup:
    """Return the hidden field that every form carries; in macros import "with context"."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(
        TOKEN_FIELD, context["csrf_token"]
    )


def moment(when: datetime) -> str:
    """Return a time in the server's own zone, for people: "25 Nov 2026, 14:02"."""
    local = when.astimezone()
    return f"{local.day} {local:%b %Y, %H:%M}"


def moment_with_zone(when: datetime) -> str:
    """Return a time with its offset from UTC, where it is read elsewhere too."""
    offset = when.astimezone().strftime("%z")
    return f"{moment(when)} (UTC{offset[:3]}:{offset[3:5]})"


def day(when: date) -> str:
    """Return a date for people.

    >>> day(date(2026, 3, 5))
    '5 Mar 2026'
    """
    return f"{when.day} {when:%b %Y}"


def script_data(value: Any) -> Markup:
    """Return JSON that may stand in a `<script type="application/json">` element.

    >>> str(script_data({"name": "</script>"}))
    '{"name": "\\\\u003c/script\\\\u003e"}'
    """
    text = json.dumps(value, allow_nan=False)
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704  (escaped above)


def static_address(path: str) -> str:
    """Return the address of a static file, with its content's hash so that it may be cached."""
    file = data_folder("static") / path
    return f"/static/{path}?v={content_hash(str(file), file.stat().st_mtime_ns)}"


@cache
def content_hash(file: str, _changed_ns: int) -> str:
    """Return a short hash of a file; asked again when its time of change moves."""
    with open(file, "rb") as content:  # noqa: PTH123
        return hashlib.file_digest(content, "sha256").hexdigest()[:12]
