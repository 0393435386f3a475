"""Dates in words: the ISO date first, then the weekday."""

from __future__ import annotations

from datetime import date

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def date_in_words(day: date) -> str:
    """``2026-03-07 Sat``: the same in every locale."""
    return f"{day.isoformat()} {_WEEKDAYS[day.weekday()]}"
