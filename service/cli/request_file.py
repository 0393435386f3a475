"""The request that a command works on: a file or standard input, and the options about it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from service.cli.exit_codes import UsageFault
from service.cli.moments import moment


def add_request_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="Bundle or Parameters as JSON; - reads standard input")
    parser.add_argument("--as-of", type=moment, metavar="INSTANT",
                        help="the moment to answer for, before the one in the request, such as 2026-03-02T08:00:00Z")


def read_request_file(name: str) -> bytes:
    """The bytes as they stand. Raises ``UsageFault`` when there is no such file."""
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise UsageFault(f"{name}: {error.strerror}") from None
