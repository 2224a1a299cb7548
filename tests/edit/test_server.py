"""The server of the working sheet trusts nothing: token, host, origin, form, size and path."""

from __future__ import annotations

import http.client
import json
import secrets
import socket
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.parse import urlsplit

import pytest
from typer.testing import CliRunner

import planopt
from edit.sheets import COUNTED, served
from planopt import cli
from planopt.edit import server as servers
from planopt.edit import serving
from planopt.edit.server import FILES, HEADERS, MOST_BYTES, EditServer, page_file
from planopt.edit.session import EditSession
from planopt.faults import BadOption

pytestmark = pytest.mark.xdist_group("edit")

JSON = "application/json"


class Page:
    """What asks a served sheet; what it sends by itself is what a browser on the page would."""

    def __init__(self, url: str) -> None:
        self.url = urlsplit(url)
        self.token = self.url.path.strip("/")

    def ask(
        self, method: str, place: str, body: bytes | None = None, **headers: str | None
    ) -> tuple[int, dict[str, str], bytes]:
        """Return status, headers and content; a header of None is left out."""
        sent: dict[str, str | None] = {"Host": self.url.netloc}
        if method == "POST":
            origin = f"http://{self.url.netloc}"
            sent |= {
                "Origin": origin,
                "Content-Type": JSON,
                "Content-Length": str(len(body or b"")),
            }
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        path = place if place.startswith("/") else f"/{self.token}/{place}"
        connection = http.client.HTTPConnection(self.url.netloc, timeout=10)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in sent.items():
            if value is not None:
                connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        content = answer.read()
        connection.close()
        return answer.status, dict(answer.getheaders()), content

    def post(self, place: str, data: object, **headers: str | None) -> tuple[int, Any]:
        """Return status and data of what a post is answered."""
        status, _, content = self.ask("POST", place, json.dumps(data).encode(), **headers)
        return status, json.loads(content)


@pytest.fixture(scope="module")
def page(tiny_plan: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """Return a served sheet; no test of this module makes or keeps a week."""
    out = tmp_path_factory.mktemp("out") / "kept"
    session = EditSession(tiny_plan, out, COUNTED, None)
    with served(session) as url:
        yield Page(url)


def test_the_page_its_files_and_its_week_are_served_with_strict_headers(page: Page) -> None:
    """All answers let nothing in from outside; the page itself has no script or style inside."""
    for place, (name, kind) in FILES.items():
        status, headers, content = page.ask("GET", place)
        assert (status, headers["Content-Type"]) == (200, kind)
        assert headers.items() >= HEADERS.items()
        assert content == page_file(name)
    assert b"<style" not in page_file("edit.html")
    assert b"<script>" not in page_file("edit.html")
    assert b"http" not in page_file("edit.js") + page_file("edit.css") + page_file("edit.html")
    assert b"innerHTML" not in page_file("edit.js")
    status, headers, content = page.ask("GET", "week?client=ben")
    assert status == 200
    assert headers.items() >= HEADERS.items()
    assert json.loads(content)["sheet"]["client"] == "ben"


def test_the_page_is_small() -> None:
    """What is written for the browser stays below 600 lines together."""
    assert sum(page_file(name).count(b"\n") for name, _ in FILES.values()) < 600


def test_it_is_bound_to_this_computer_alone(page: Page) -> None:
    """The address is loopback, which no other computer reaches."""
    assert page.url.hostname == servers.HOST == "127.0.0.1"
    assert len(page.token) >= 40


@pytest.mark.parametrize(
    "path",
    ["/", "/TOKEN", "/WRONG/", "/TOKE/week", "/TOKENx/week", "/WRONG/TOKEN/week",
     "/week", "/?token=TOKEN", "/TOKEN/../week", "/TOKEN/edit.py", "/TOKEN/page/edit.js",
     "/TOKEN/..%2fserver.py", "/TOKEN/week/", "http://127.0.0.1/TOKEN/week", "*", "/[/TOKEN/",
     "/t\u00f6ken/".encode().decode("latin-1")],
)  # fmt: skip
def test_without_the_token_or_beside_the_few_places_there_is_nothing(page: Page, path: str) -> None:
    """No part of a wrong address is told from a right one, and no path leads to other files."""
    told = path.replace("TOKEN", page.token).replace("WRONG", secrets.token_urlsafe(32))
    told = told.replace("TOKE/", f"{page.token[:-1]}/")
    sent = socket.create_connection((page.url.hostname, page.url.port), timeout=10)
    sent.sendall(f"GET {told} HTTP/1.0\r\nHost: {page.url.netloc}\r\n\r\n".encode("latin-1"))
    answer = sent.makefile("rb").read()
    sent.close()
    assert answer.split(b" ", 2)[1] in (b"400", b"404")
    assert page.token.encode() not in answer
    assert b"plates" not in answer


def test_a_token_is_compared_in_constant_time(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison is that of the library which does not end at the first letter that differs."""
    compared: list[tuple[bytes, bytes]] = []

    def compare(one: bytes, other: bytes) -> bool:
        compared.append((one, other))
        return False

    monkeypatch.setattr(servers.secrets, "compare_digest", compare)
    assert page.ask("GET", "week")[0] == 404
    assert compared == [(page.token.encode(), page.token.encode())]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "evil.example"}, 403),
        ({"Host": "localhost"}, 403),
        ({"Host": None}, 403),
        ({"Sec_Fetch_Site": "cross-site"}, 403),
        ({"Sec_Fetch_Site": "same-site"}, 403),
        ({"Sec_Fetch_Site": "same-origin"}, 200),
    ],
)
def test_other_hosts_and_sites_are_refused(
    page: Page, headers: dict[str, str | None], status: int
) -> None:
    """A name of the outside that points here is another host; even a right token does not help."""
    assert page.ask("GET", "week", **headers)[0] == status
    assert page.post("over", {"day": None}, **headers)[0] == status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": None}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Content_Type": "text/plain"}, 415),
        ({"Content_Type": "application/x-www-form-urlencoded"}, 415),
        ({"Content_Type": None}, 415),
        ({"Content_Length": None}, 411),
        ({"Content_Length": "-1"}, 411),
        ({"Content_Length": "1e3"}, 411),
        ({"Transfer_Encoding": "chunked"}, 411),
        ({"Content_Length": str(MOST_BYTES + 1)}, 413),
        ({"Content_Length": "9" * 40}, 413),
    ],
)
def test_posts_come_from_the_page_as_small_json(
    page: Page, headers: dict[str, str | None], status: int
) -> None:
    """What another site could send by a form or a script is refused before it is read."""
    assert page.post("over", {"day": 3}, **headers)[0] == status
    assert json.loads(page.ask("GET", "state")[2])["state"]["from_day"] is None


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"1", b"\xff", b"[" * 9000, b'{"day": "3"}',
                                  b'{"day": true}', b'{"day": 1.5}'])  # fmt: skip
def test_what_is_no_json_object_of_the_right_form_is_refused(page: Page, body: bytes) -> None:
    """Broken, foreign and deep JSON is a bad request, and nothing changes."""
    assert page.ask("POST", "over", body)[0] == 400
    assert json.loads(page.ask("GET", "state")[2])["state"]["from_day"] is None


def test_other_ways_of_asking_are_not_known(page: Page) -> None:
    """What changes something is no GET; other methods there are none."""
    assert page.ask("GET", "done")[0] == 404
    assert page.post("week", {})[0] == 404
    assert page.post("over?day=1", {})[0] == 404
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE"):
        assert page.ask(method, "week")[0] == 501


def test_a_change_goes_on_the_list_and_off_it_and_faults_are_told_whole(page: Page) -> None:
    """Faults have file, field, value, why, mend and code; what comes too early is a conflict."""
    status, data = page.post("change", {"kind": "keep_day", "client": "ana", "day": 1})
    assert (status, data["said"]) == (200, "On the list: Ana: keep all of Mon\u00a030\u00a0Nov.")
    status, data = page.post("change", {"kind": "keep_dish", "client": "ana", "recipe": "cake"})
    assert status == 422
    (fault,) = data["trouble"]["faults"]
    assert set(fault) == {"file", "line", "field", "value", "why", "mend", "code"}
    assert fault["code"] == "not_in_plan"
    state = json.loads(page.ask("GET", "state")[2])["state"]
    (wish,) = state["wishes"]
    assert page.post("keep", {})[0] == 409
    assert page.post("remove", {"number": wish["number"]})[0] == 200
    assert json.loads(page.ask("GET", "state")[2])["state"]["wishes"] == []


def test_a_bug_is_told_and_keeps_its_traceback(
    page: Page, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page gets an answer without the inside of the program, which goes to the terminal."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("oops")

    monkeypatch.setattr(EditSession, "sheet", broken)
    status, _, content = page.ask("GET", "week")
    assert status == 500
    assert b"oops" not in content
    assert "ZeroDivisionError: oops" in capsys.readouterr().err
    assert page.ask("GET", "state")[0] == 200


def test_it_ends_by_itself_when_nobody_uses_it(session: EditSession) -> None:
    """After a hundredth of a minute without a request it has ended; a wrong token is no use."""
    serving.serve(session, browser=False, idle_minutes=0.01)
    assert session.ended


def test_a_port_that_is_taken_is_told(session: EditSession) -> None:
    """Two sheets cannot have one port."""
    with EditServer(session) as first, pytest.raises(BadOption, match="leave --port out"):
        EditServer(session, first.server_port)


def press_done(url: str) -> None:
    """Put a change on the list, and press the button that ends a sheet, as a browser would."""
    page = Page(url)
    page.post("change", {"kind": "keep_day", "client": "ana", "day": 1})
    assert page.post("done", {}) == (200, {"said": "Ended."})


def interrupt(url: str) -> None:
    """Press Ctrl-C."""
    raise KeyboardInterrupt


@pytest.mark.parametrize("ending", [press_done, interrupt])
def test_the_command_ends_in_peace_and_tells_what_was_not_kept(
    tiny_plan: Path, monkeypatch: pytest.MonkeyPatch, ending: Any
) -> None:
    """By the button and by Ctrl-C; changes that were not kept are words for `adjust`."""

    def later(url: str) -> None:
        if ending is interrupt:
            interrupt(url)
        Thread(target=press_done, args=(url,)).start()

    monkeypatch.setattr(serving, "show_in_browser", later)
    done = CliRunner().invoke(cli.app, ["edit", str(tiny_plan)])
    assert done.exit_code == 0, done.output
    assert "http://127.0.0.1:" in done.output
    assert "Nothing was kept." in done.output
    assert ("--change 'keep day 1 for ana'" in done.output) is (ending is press_done)
    assert planopt.edit(tiny_plan) is None
