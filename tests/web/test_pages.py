"""What every page keeps to: no outside host, guarded headers, vendored files as they came."""

import hashlib
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

import service.web
from service.web.pages import SECURITY

ROOM = Path(service.web.__file__).parent
VENDOR = ROOM / "static" / "vendor"


def test_front_page_leads_to_documentation_problems_and_health(client: FlaskClient) -> None:
    answer = client.get("/")

    assert answer.status_code == 200
    assert re.findall(r'<p>.*?href="([^"]+)".*?href="([^"]+)".*?href="([^"]+)"', answer.text) == [
        ("/docs", "/problems/", "/v1/health")
    ]


@pytest.mark.parametrize(
    "path", ["/", "/problems/", "/problems/not-found", "/problems/unknown", "/static/oastbook.css"]
)
def test_pages_are_guarded(client: FlaskClient, path: str) -> None:
    with client.get(path) as answer:
        assert {name: answer.headers[name] for name in SECURITY} == SECURITY


def test_front_page_cautions_that_estimates_are_estimates(client: FlaskClient) -> None:
    assert "Estimates are estimates" in client.get("/").text


def test_no_page_names_an_outside_host() -> None:
    own = [*ROOM.glob("templates/*.html"), *ROOM.glob("static/*.*")]

    named = [
        (path.name, address)
        for path in own
        for address in re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"']*", path.read_text())
        if address != "http://www.w3.org/2000/svg"
    ]

    assert own
    assert named == []


def test_no_page_holds_a_script_or_a_style_of_its_own() -> None:
    own = {path.name: path.read_text() for path in ROOM.glob("templates/*.html")}

    assert len(own) == 6
    inline = r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|javascript:"
    assert [name for name, text in own.items() if re.search(inline, text)] == []


def test_vendored_files_are_as_they_came_and_bring_their_licence() -> None:
    sums = dict(reversed(line.split("  ")) for line in (VENDOR / "SHA256SUMS").read_text().splitlines())

    files = {
        str(p.relative_to(VENDOR)): p for p in VENDOR.rglob("*") if p.is_file() and p.name != "SHA256SUMS"
    }

    assert {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in files.items()} == sums
    for folder in (p for p in VENDOR.iterdir() if p.is_dir()):
        assert (folder / "LICENSE").is_file()
        assert (folder / "VERSION").is_file()
