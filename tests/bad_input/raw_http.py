"""Bytes on a socket, for requests that no client library would send."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterable
from urllib.parse import urlsplit

PLAN_HEAD = (
    b"POST /fhir/$plan-grafts HTTP/1.1\r\nHost: x\r\nContent-Type: application/fhir+json\r\n"
    b"Connection: close\r\n")


def exchange(address: str, pieces: Iterable[bytes]) -> tuple[int, dict[str, str], dict]:
    """Status, headers and resource that come back for the bytes; a server may stop listening before the end."""
    where = urlsplit(address)
    with socket.create_connection((where.hostname, where.port), timeout=20) as connection:
        try:
            for piece in pieces:
                connection.sendall(piece)
        except (BrokenPipeError, ConnectionResetError):
            pass
        received = b""
        while chunk := _receive(connection):
            received += chunk
    head, _, body = received.partition(b"\r\n\r\n")
    status, *lines = head.decode().split("\r\n")
    headers = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines)}
    return int(status.split()[1]), headers, json.loads(body)


def _receive(connection: socket.socket) -> bytes:
    try:
        return connection.recv(65_536)
    except ConnectionResetError:
        return b""
