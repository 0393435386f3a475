"""What readers made of cards that were given out; nothing here names a patient."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Feedback:
    """One answer to a card that was shown. ``reason_code`` is a code of this service, never the caller's text."""

    card_id: str
    outcome: str  # accepted, overridden
    reason_code: str | None
    given_at: datetime  # aware


@dataclass(frozen=True)
class CardReport:
    """A card that was shown and one thing that was said to it; ``outcome`` is ``None`` when nothing was.

    ``situation`` says by code what it was about: a kind of event, a finding or an error id.
    """

    service_id: str
    situation: str
    card_id: str
    shown_at: datetime
    outcome: str | None
    reason_code: str | None
    given_at: datetime | None
