"""What became of the cards: accepted, or overridden and why. Free text is not kept: it may name a patient."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import func, insert, select

from service.storage.database import Database
from service.storage.tables import card_feedback, shown_card


@dataclass(frozen=True)
class Feedback:
    """One answer to a card that was shown. ``reason_code`` is a code of this service, never the caller's text."""

    card_id: str
    outcome: str
    reason_code: str | None
    given_at: datetime  # aware


class CardFeedback:
    """Feedback in the order in which it came."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, feedback: Feedback) -> bool:
        """Keep one; ``False`` when no such card was shown."""
        known = select(shown_card.c.card_id).where(shown_card.c.card_id == feedback.card_id)
        with self._database.writing() as connection:
            if connection.execute(known).first() is None:
                return False
            connection.execute(insert(card_feedback).values(**asdict(feedback)))
            return True

    def of(self, card_id: str) -> tuple[Feedback, ...]:
        """Everything that was said to one card."""
        columns = (card_feedback.c.card_id, card_feedback.c.outcome, card_feedback.c.reason_code,
                   card_feedback.c.given_at)
        query = select(*columns).where(card_feedback.c.card_id == card_id).order_by(card_feedback.c.number)
        with self._database.reading() as connection:
            return tuple(Feedback(**row) for row in connection.execute(query).mappings())

    def counts(self) -> Counter[tuple[str, str, str | None]]:
        """How often each service's cards met each outcome, with its reason."""
        key = (shown_card.c.service_id, card_feedback.c.outcome, card_feedback.c.reason_code)
        query = select(*key, func.count()).join_from(card_feedback, shown_card).group_by(*key)
        with self._database.reading() as connection:
            return Counter({tuple(row[:3]): row[3] for row in connection.execute(query)})
