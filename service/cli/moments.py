"""A moment as an option."""

from __future__ import annotations

import argparse
from datetime import datetime


def moment(text: str) -> datetime:
    """An instant with its offset. Raises what the parser tells the user."""
    try:
        read = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError("not an ISO 8601 instant") from None
    if read.tzinfo is None:
        raise argparse.ArgumentTypeError("an instant needs its offset, such as +01:00 or Z")
    return read
