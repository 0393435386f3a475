"""Requests as ``.http`` files and pages write them, read and sent."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import httpx2 as httpx


@dataclass(frozen=True)
class WrittenRequest:
    """One request and the answer that the line ``# answer`` promises."""

    title: str
    status: int
    answer: str
    method: str
    path: str
    headers: dict[str, str]
    body: bytes

    def send(self, client: httpx.Client) -> httpx.Response:
        return client.request(self.method, self.path, headers=self.headers, content=self.body)


def read_request(text: str, folder: Path, title: str = "") -> WrittenRequest:
    """A request as it is written; a body ``< file`` is that file, seen from ``folder``."""
    head, _, body = text.strip().partition("\n\n")
    promise, line, *headers = head.splitlines()
    status, answer = re.fullmatch(r"# answer (\d{3}) (\w+)", promise).groups()
    method, _, address = line.partition(" ")
    content = (folder / body[2:]).read_bytes() if body.startswith("< ") else body.encode()
    return WrittenRequest(
        title, int(status), answer, method, address.removeprefix("{{address}}"),
        dict(header.split(": ", 1) for header in headers), content)


def read_collection(path: Path) -> list[WrittenRequest]:
    """Every request of an ``.http`` file."""
    _, *parts = path.read_text().split("\n### ")
    return [read_request(part.partition("\n")[2], path.parent, part.partition("\n")[0]) for part in parts]


def read_page(path: Path) -> list[WrittenRequest]:
    """Every request that a page shows."""
    return [read_request(text, path.parent) for text in re.findall(r"```http\n(.*?)```", path.read_text(), re.DOTALL)]
