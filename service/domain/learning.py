"""What a patient's own course has shown: what was expected, what was read, what is expected now."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class LearnedAbout(StrEnum):
    """What can be learnt. Takes are fractions of the graft; healing is a ratio to the days expected of the site."""

    SHEET_TAKE = "sheet-take"
    MESHED_TAKE = "meshed-take"
    ISLAND_TAKE = "island-take"
    DONOR_HEALING = "donor-healing"


@dataclass(frozen=True)
class Belief:
    """A mean of this patient, and the interval in which it is held to lie. [fraction or ratio]"""

    value: Decimal
    low: Decimal
    high: Decimal


@dataclass(frozen=True)
class Learned:
    """Prior, data and posterior of one quantity.

    ``observed_ratio`` is the mean of the readings; readings of one session are alike and count as
    little more than one. ``sources`` are the record keys of what was read.
    """

    about: LearnedAbout
    prior: Belief
    observed_ratio: Decimal
    reading_count: int
    session_count: int
    posterior: Belief
    sources: tuple[str, ...]
