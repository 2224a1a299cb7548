"""The server of the working sheet: this computer alone, with a token, and nothing taken on trust.

It listens on 127.0.0.1 only. Each request must name that host, so that no name of the outside can
be pointed here, and begin its path with a random token, compared in constant time. What changes
anything is a POST of a small piece of JSON from the page itself: its Origin is looked at, and JSON
cannot be sent from another site without asking first. Answers let nothing in from outside, and no
site may frame or read them.
"""

from __future__ import annotations

import json
import os
import secrets
import socketserver
import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from threading import Condition
from time import monotonic
from typing import Any
from urllib.parse import parse_qs, urlsplit

from planopt.edit.asking import asked_of
from planopt.edit.difference import trouble
from planopt.edit.session import EditSession, NotNow
from planopt.faults import BadOption, PlanoptError

HOST = "127.0.0.1"
MOST_BYTES = 16_384
# A request that is not whole by then is given up.
_SECONDS = 5.0
FILES = {
    "": ("edit.html", "text/html; charset=utf-8"),
    "edit.css": ("edit.css", "text/css; charset=utf-8"),
    "edit.js": ("edit.js", "text/javascript; charset=utf-8"),
}
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}

Data = Mapping[str, Any]
_Answer = Callable[[str, Mapping[str, list[str]]], None]


def _number(data: Data, name: str) -> int | None:
    value = data.get(name)
    if value is not None and (not isinstance(value, int) or isinstance(value, bool)):
        raise _Refused(HTTPStatus.BAD_REQUEST, f"{name} is not a whole number")
    return value


# What the page may post, and what is done.
ACTIONS: dict[str, Callable[[EditSession, Data], str]] = {
    "change": lambda session, data: session.add(asked_of(dict(data))),
    "remove": lambda session, data: session.remove(_number(data, "number") or 0),
    "over": lambda session, data: session.set_over(_number(data, "day")),
    "plan": lambda session, data: session.start(_number(data, "seconds")),
    "stop": lambda session, data: session.stop(),
    "keep": lambda session, data: session.keep(),
    "back": lambda session, data: session.back(),
    "done": lambda session, data: session.end(),
}


class _Refused(Exception):
    """A request that is not answered, with the status that says why."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status, self.why = status, why


class EditServer(ThreadingHTTPServer):
    """The server of one session."""

    # Nobody else may take the address while it is in use.
    allow_reuse_address = os.name != "nt"
    allow_reuse_port = False
    # A browser holds connections open for what it may ask later; these are not waited for.
    daemon_threads = True

    def __init__(self, session: EditSession, port: int = 0) -> None:
        """Begin to listen; port 0 stands for any that is free.

        Raises:
            BadOption: the port cannot be had.
        """
        self.session = session
        self.token = secrets.token_urlsafe(32)
        self.last_used = monotonic()
        self._answers, self._quiet = 0, Condition()
        try:
            super().__init__((HOST, port), _Handler)
        except OSError as error:
            text = f"port {port} cannot be had ({error.strerror or error}); leave --port out"
            raise BadOption(text) from error
        # How long `handle_request` waits before the end is looked for again.
        self.timeout = 0.25

    @contextmanager
    def answering(self) -> Iterator[None]:
        """Keep the server from closing until an answer is given."""
        with self._quiet:
            self._answers += 1
        try:
            yield
        finally:
            with self._quiet:
                self._answers -= 1
                self._quiet.notify_all()

    def server_close(self) -> None:
        """Close once all answers are given: what is being written is written to its end."""
        super().server_close()
        with self._quiet:
            self._quiet.wait_for(lambda: self._answers == 0, 12 * _SECONDS)

    def server_bind(self) -> None:
        """Bind without asking a name server who this is."""
        socketserver.TCPServer.server_bind(self)
        self.server_name, self.server_port = HOST, self.server_address[1]

    @property
    def origin(self) -> str:
        """Return the origin of the page."""
        return f"http://{HOST}:{self.server_port}"

    @property
    def url(self) -> str:
        """Return the address of the page, with the token."""
        return f"{self.origin}/{self.token}/"

    def idle_seconds(self) -> float:
        """Return for how long nobody has used the page; planning is no idling."""
        if self.session.planning:
            self.last_used = monotonic()
        return monotonic() - self.last_used

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of connections that break off."""


class _Handler(BaseHTTPRequestHandler):
    server: EditServer
    timeout = _SECONDS
    server_version, sys_version = "planopt", ""

    def do_GET(self) -> None:
        self._answer(self._get)

    def do_POST(self) -> None:
        self._answer(self._post)

    def _answer(self, answer: _Answer) -> None:
        with self.server.answering():
            self._answer_safely(answer)

    def _answer_safely(self, answer: _Answer) -> None:
        try:
            self._check_host()
            if not self.path.startswith("/"):
                raise _Refused(HTTPStatus.NOT_FOUND, "there is nothing here")
            url = urlsplit(self.path)
            answer(self._place(url.path), parse_qs(url.query, max_num_fields=4))
        except _Refused as refused:
            self._send_json(refused.status, {"refused": refused.why})
        except ValueError:
            self._send_json(HTTPStatus.BAD_REQUEST, {"refused": "the address cannot be read"})
        except (ConnectionError, TimeoutError):
            self.close_connection = True
        except Exception:
            # A bug keeps its traceback, and the page is not left without an answer.
            traceback.print_exc(file=sys.stderr)
            why = "a bug of planopt; what it was is in the terminal"
            self._send_json(HTTPStatus.INTERNAL_SERVER_ERROR, {"refused": why})

    def _check_host(self) -> None:
        if self.headers.get_all("Host") != [self.server.origin.removeprefix("http://")]:
            raise _Refused(HTTPStatus.FORBIDDEN, "this is another host")
        if self.headers.get("Sec-Fetch-Site", "none") not in ("none", "same-origin"):
            raise _Refused(HTTPStatus.FORBIDDEN, "this comes from another site")

    def _place(self, path: str) -> str:
        """Return what of the session is asked for, once the token is right."""
        start, _, token_and_place = path.partition("/")
        token, slash, place = token_and_place.partition("/")
        right = secrets.compare_digest(token.encode(), self.server.token.encode())
        if start or not right or not slash:
            raise _Refused(HTTPStatus.NOT_FOUND, "there is nothing here")
        self.server.last_used = monotonic()
        return place

    def _get(self, place: str, query: Mapping[str, list[str]]) -> None:
        session = self.server.session
        if place in FILES:
            name, kind = FILES[place]
            self._send(HTTPStatus.OK, kind, page_file(name))
        elif place == "week":
            client = query.get("client", [None])[0]
            with session.lock:
                data = {"sheet": session.sheet(client), "state": session.state()}
            self._send_json(HTTPStatus.OK, data)
        elif place == "state":
            with session.lock:
                data = {"state": session.state()}
            self._send_json(HTTPStatus.OK, data)
        else:
            raise _Refused(HTTPStatus.NOT_FOUND, "there is nothing here")

    def _post(self, place: str, query: Mapping[str, list[str]]) -> None:
        if place not in ACTIONS or query:
            raise _Refused(HTTPStatus.NOT_FOUND, "there is nothing here")
        data = self._posted()
        session = self.server.session
        try:
            with session.lock:
                said = ACTIONS[place](session, data)
        except NotNow as error:
            raise _Refused(HTTPStatus.CONFLICT, str(error)) from error
        except PlanoptError as error:
            self._send_json(HTTPStatus.UNPROCESSABLE_ENTITY, {"trouble": trouble(error)})
        else:
            self._send_json(HTTPStatus.OK, {"said": said})

    def _posted(self) -> Data:
        """Return what the page has posted."""
        if self.headers.get_all("Origin") != [self.server.origin]:
            raise _Refused(HTTPStatus.FORBIDDEN, "this comes from another site")
        if self.headers.get_content_type() != "application/json":
            raise _Refused(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "only JSON is read here")
        length = self.headers.get("Content-Length", "")
        if not (length.isascii() and length.isdigit()) or "Transfer-Encoding" in self.headers:
            raise _Refused(HTTPStatus.LENGTH_REQUIRED, "the length is not told")
        if len(length) > 9 or int(length) > MOST_BYTES:
            raise _Refused(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "this is too large")
        try:
            data = json.loads(self.rfile.read(int(length)).decode("utf-8"))
        except (ValueError, RecursionError) as error:
            raise _Refused(HTTPStatus.BAD_REQUEST, "this is no JSON") from error
        if not isinstance(data, dict):
            raise _Refused(HTTPStatus.BAD_REQUEST, "this is no JSON object")
        return data

    def _send_json(self, status: HTTPStatus, data: Data) -> None:
        text = json.dumps(data, ensure_ascii=False, allow_nan=False)
        self._send(status, "application/json; charset=utf-8", text.encode("utf-8", "replace"))

    def _send(self, status: HTTPStatus, kind: str, content: bytes) -> None:
        self.send_response(status)
        for name, value in HEADERS.items():
            self.send_header(name, value)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Write no log: addresses hold the token."""


def page_file(name: str) -> bytes:
    """Return a file of the page."""
    return resources.files("planopt.edit").joinpath("page", name).read_bytes()
