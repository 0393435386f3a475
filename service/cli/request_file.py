"""The request that a command works on: a file or standard input, and the options about it."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path

from service.cli.exit_codes import UsageFault


def add_request_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="Bundle or Parameters as JSON; - reads standard input")
    parser.add_argument("--as-of", type=_instant, metavar="INSTANT",
                        help="the moment to answer for, before the one in the request, such as 2026-03-02T08:00:00Z")


def read_request_file(name: str) -> bytes:
    """The bytes as they stand. Raises ``UsageFault`` when there is no such file."""
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise UsageFault(f"{name}: {error.strerror}") from None


def _instant(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError("not an instant such as 2026-03-02T08:00:00Z") from None
    if moment.tzinfo is None:
        raise argparse.ArgumentTypeError("an instant needs an offset, such as Z or +01:00")
    return moment
