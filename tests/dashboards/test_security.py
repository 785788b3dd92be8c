"""Guards around every route: statuses, headers, who may ask."""

import re

import pytest

from dashboards import security
from eventlab.errors import DamagedStore
from tests.dashboards.conftest import ORIGIN

EVERYWHERE = [
    "/",
    "/site/2101",
    "/site/2101/alarms.csv",
    "/logs",
    "/nowhere",
    "/site/9999",
    "/_dash-layout",
    "/_dash-dependencies",
    "/assets/screens.js",
    "/assets/missing.js",
    "/_dash-update-component",
    "/_dash-component-suites/dash/missing.js",
]


@pytest.mark.parametrize("path", EVERYWHERE)
def test_every_route_has_the_headers(client, path):
    response = client.get(path, buffered=True)
    said = response.headers["Content-Security-Policy"]
    assert said.startswith("default-src 'none'; script-src 'self' 'sha256-")
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["X-Frame-Options"] == "DENY"
    assert response.headers["Cross-Origin-Resource-Policy"] == "same-origin"


def test_the_policy_is_the_proven_one():
    told = dict(part.split(" ", 1) for part in security.policy(["'sha256-x'"]).split("; "))
    assert told == {
        "default-src": "'none'",
        "script-src": "'self' 'sha256-x'",
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "connect-src": "'self'",
        "worker-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "frame-ancestors": "'none'",
        "object-src": "'none'",
    }
    assert "unsafe-eval" not in security.policy([])


@pytest.mark.parametrize("path", ["/", "/logs", "/logs/", "/site/2101", "/site/2101?page=2"])
def test_known_addresses_answer_200(client, path):
    assert client.get(path).status_code == 200


@pytest.mark.parametrize("path", ["/nowhere", "/site/9999", "/site", "/site/2101/zone/99", "/x.js"])
def test_unknown_addresses_answer_404_with_the_designed_page(client, path):
    response = client.get(path)
    assert response.status_code == 404
    assert "_dash-app-content" in response.text or "react-entry-point" in response.text


def test_a_store_that_fails_is_told_by_the_page_not_as_a_missing_site(client, lab):
    lab.fail = DamagedStore("a file is missing")
    assert client.get("/site/2101").status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "192.0.2.7", "127.0.0.1.evil.example"])
def test_other_host_names_are_refused(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8050", "[::1]:8050", "LOCALHOST:1"])
def test_this_machine_is_served(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "https://localhost", "http://localhost:81"]
)
@pytest.mark.parametrize("path", ["/logs/uploads", "/_dash-update-component"])
def test_only_our_own_pages_may_change_anything(client, path, origin):
    headers = {"Origin": origin} if origin else {}
    assert client.post(path, json={}, headers=headers).status_code == 403


def test_our_own_pages_may(client):
    assert client.post("/logs/uploads", headers=ORIGIN).status_code == 200


def test_pages_are_not_kept_by_browsers_and_libraries_are(client):
    assert client.get("/").headers["Cache-Control"] == "no-store"
    script = re.search(r'src="(/_dash-component-suites/[^"]+)"', client.get("/").text)
    assert "max-age" in client.get(script[1]).headers["Cache-Control"]


def test_nothing_on_the_page_comes_from_elsewhere(client):
    page = client.get("/").text
    assert re.findall(r"""(?:src|href)=["'](?!/)""", page) == []
    assert "cdn" not in page.lower()
    assert "https://" not in page
    assert "plotly.com" not in client.get("/_dash-layout").text


def test_texts_are_compressed(client):
    response = client.get("/_dash-layout", headers={"Accept-Encoding": "gzip"})
    assert response.headers["Content-Encoding"] == "gzip"
