"""A small HTTP server on loopback that answers as a test says, and remembers what it was asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

Respond = Callable[[BaseHTTPRequestHandler], None]


@dataclass
class Loopback:
    """Its address, and each request as path and headers (lower case)."""

    address: str = ""
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)


def answer(body: bytes, status: int = 200, headers: Mapping[str, str] | None = None) -> Respond:
    """An answer that is always the same."""
    def respond(request: BaseHTTPRequestHandler) -> None:
        request.send_response(status)
        for name, value in {"Content-Length": str(len(body)), **(headers or {})}.items():
            request.send_header(name, value)
        request.end_headers()
        request.wfile.write(body)
    return respond


@contextmanager
def run_loopback(respond: Respond) -> Iterator[Loopback]:
    """The server, for as long as the block runs."""
    server = Loopback()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            server.asked.append((self.path, {name.lower(): value for name, value in self.headers.items()}))
            try:
                respond(self)
            except OSError:
                self.close_connection = True  # who asked has gone

        def log_message(self, *_: object) -> None:
            """Nothing."""

    http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    http.daemon_threads = True
    server.address = f"http://127.0.0.1:{http.server_port}"
    thread = Thread(target=http.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        http.shutdown()
        http.server_close()
