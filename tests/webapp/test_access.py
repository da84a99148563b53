"""Hosts, headers, form tokens and body limits."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from webapp.access import clean_name, host_without_port, local_address
from webapp.app import create_app
from webapp.settings import Settings


@pytest.mark.parametrize("host", ["localhost", "localhost:8000", "127.0.0.1:8001", "[::1]:80"])
def test_the_server_answers_under_its_own_names(client: TestClient, host: str) -> None:
    assert client.get("/health", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.test", "localhost.evil.test", "127.0.0.1.evil.test", "", "[::2]", "evil.test:localhost"],
)
@pytest.mark.parametrize("path", ["/", "/health", "/static/css/base.css", "/nowhere"])
def test_any_other_name_is_refused_before_all_else(
    client: TestClient, host: str, path: str
) -> None:
    answer = client.get(path, headers={"host": host})
    assert answer.status_code == 400
    assert "does not answer under that name" in answer.text


def test_a_configured_name_is_answered(settings: Settings) -> None:
    named = settings.model_copy(update={"host_names": ("robot.local",)})
    with TestClient(create_app(named), base_url="http://robot.local:8000") as client:
        assert client.get("/health").status_code == 200


@pytest.mark.parametrize("path", ["/", "/health", "/nowhere", "/static/css/base.css"])
def test_every_answer_carries_the_security_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_pages_are_not_kept_and_static_files_are(client: TestClient, study_id: str) -> None:
    assert client.get(f"/studies/{study_id}/history").headers["cache-control"] == "no-store"
    assert client.get("/").headers["cache-control"] == "no-store"
    plain = client.get("/static/css/base.css")
    hashed = client.get("/static/css/base.css?v=abc")
    assert plain.headers["cache-control"] == "no-cache"
    assert "immutable" in hashed.headers["cache-control"]


POSTS = [
    "/units",
    "/author",
    "/studies/new",
    "/studies/upload",
    "/studies/{id}/duplicate",
    "/studies/{id}/history/restore",
    "/studies/{id}/share/new",
    "/studies/{id}/share/1/revoke",
]


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize("token", [None, "", "x" * 43])
def test_a_form_without_the_browsers_token_is_refused(
    client: TestClient, study_id: str, path: str, token: str | None
) -> None:
    client.get("/")
    fields = {} if token is None else {"csrf_token": token}
    answer = client.post(path.format(id=study_id), data=fields)
    assert answer.status_code == 403
    assert "Nothing was changed" in answer.text


def test_every_form_address_asks_for_the_token(app: FastAPI) -> None:
    """A page added later cannot forget it: its POST route has to depend on the checked form."""
    from webapp.access import checked_form

    def asks(dependant: Any) -> bool:
        return dependant.call is checked_form or any(asks(one) for one in dependant.dependencies)

    free = {"/api/v1/evaluate"}
    routes = [route for route in all_routes(app) if "POST" in route.methods]
    assert len(routes) >= len(POSTS)
    assert {route.path for route in routes if not asks(route.dependant)} == free


def all_routes(app: FastAPI) -> list[Any]:
    from fastapi.routing import APIRoute, iter_route_contexts

    return [route for route in iter_route_contexts(app.routes) if hasattr(route, "dependant")] or [
        route for route in app.routes if isinstance(route, APIRoute)
    ]


def test_a_token_without_its_cookie_is_refused(client: TestClient, forms: Any) -> None:
    token = forms.token()
    client.cookies.clear()
    assert client.post("/studies/new", data={"csrf_token": token}).status_code == 403


def test_a_form_that_another_site_sent_is_refused(client: TestClient, forms: Any) -> None:
    headers = {"sec-fetch-site": "cross-site"}
    assert forms.send("/units", {"units": "si"}, headers=headers).status_code == 403
    assert forms.send("/units", {"units": "si"}).status_code == 303


def test_the_token_cookie_is_out_of_reach_of_scripts(client: TestClient) -> None:
    cookie = client.get("/").headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie


def test_the_cookie_is_secure_where_the_server_is(settings: Settings) -> None:
    served = settings.model_copy(update={"base_url": "https://robot.test"})
    with TestClient(create_app(served), base_url="http://localhost") as client:
        assert "secure" in client.get("/").headers["set-cookie"].lower()


@pytest.mark.parametrize("known_length", [True, False])
def test_a_body_beyond_the_limit_is_refused(settings: Settings, known_length: bool) -> None:
    small = settings.model_copy(update={"max_body_bytes": 100_000})
    body = b"x" * 200_000
    with TestClient(create_app(small), base_url="http://localhost") as client:
        content = body if known_length else iter([body[:100_000], body[100_000:]])
        answer = client.post("/api/v1/evaluate", content=content)
        assert answer.status_code == 413


def test_a_host_header_is_read_without_its_port() -> None:
    assert host_without_port("LocalHost:8000") == "localhost"
    assert host_without_port("localhost.") == "localhost"
    assert host_without_port("[::1]:8000") == "[::1]"


@pytest.mark.parametrize(
    "elsewhere", ["//evil.test", "https://evil.test", "/\\evil.test", "javascript:x", "", None]
)
def test_only_addresses_of_this_server_are_gone_back_to(elsewhere: str | None) -> None:
    assert local_address(elsewhere) == "/"


def test_a_name_is_one_short_line() -> None:
    assert clean_name("a\x00b\nc") == "a b c"
    assert len(clean_name("n" * 500)) == 60
