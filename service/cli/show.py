"""Beside a starting service: waits until it is ready, says where it is, shows one plan through it."""

from __future__ import annotations

import sys
from threading import Thread
from time import sleep
from urllib.error import HTTPError, URLError
from urllib.request import ProxyHandler, Request, build_opener

from service.cli.exit_codes import ANSWERED, FAULT

POLL_SECONDS = 0.1
ANSWER_SECONDS = 60
_open = build_opener(ProxyHandler({})).open  # the service is on this machine, whatever proxy is set


class Show:
    """Prints the address, and the plan for ``body`` if there is one.

    ``exit_code`` tells whether the plan could be shown; when not, the server is ended.
    """

    def __init__(self, server, address: str, body: bytes | None) -> None:
        self.server = server
        self.address = address
        self.body = body
        self.exit_code = ANSWERED

    def start(self) -> None:
        Thread(target=self._show, daemon=True).start()

    def _show(self) -> None:
        while not self._is_ready():
            if self.server.should_exit:
                return
            sleep(POLL_SECONDS)
        try:
            if self.body is not None:
                print(self._plan(), flush=True)
            print(f"Graftstage is ready: open {self.address}/ or {self.address}/docs", flush=True)
        except (URLError, BrokenPipeError) as error:
            print(f"The sample could not be planned: {_reason(error)}", file=sys.stderr, flush=True)
            self.exit_code = FAULT
            self.server.should_exit = True

    def _is_ready(self) -> bool:
        try:
            with _open(f"{self.address}/readyz", timeout=POLL_SECONDS * 10) as answer:
                return answer.status == 200
        except OSError:
            return False

    def _plan(self) -> str:
        headers = {"Content-Type": "application/fhir+json", "Accept": "text/plain"}
        request = Request(f"{self.address}/fhir/$plan-grafts", self.body, headers)
        with _open(request, timeout=ANSWER_SECONDS) as answer:
            return answer.read().decode()


def _reason(error: Exception) -> str:
    return error.read().decode() if isinstance(error, HTTPError) else type(error).__name__
