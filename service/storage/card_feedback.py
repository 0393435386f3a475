"""What became of the cards: accepted, or overridden and why. Free text is not kept: it may name a patient."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime

from sqlalchemy import insert, select

from service.domain.card import CardReport, Feedback
from service.storage.database import Database
from service.storage.tables import card_feedback, shown_card


class CardFeedback:
    """Feedback in the order in which it came."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, feedback: Feedback) -> bool:
        """Keep one, once however often it is reported; ``False`` when no such card was shown."""
        row = asdict(feedback)
        known = select(shown_card.c.card_id).where(shown_card.c.card_id == feedback.card_id)
        same = select(card_feedback.c.number).where(*(card_feedback.c[name] == value for name, value in row.items()))
        with self._database.writing() as connection:
            if connection.execute(known).first() is None:
                return False
            if connection.execute(same).first() is None:
                connection.execute(insert(card_feedback).values(**row))
            return True

    def of(self, card_id: str) -> tuple[Feedback, ...]:
        """Everything that was said to one card."""
        columns = (card_feedback.c.card_id, card_feedback.c.outcome, card_feedback.c.reason_code,
                   card_feedback.c.given_at)
        query = select(*columns).where(card_feedback.c.card_id == card_id).order_by(card_feedback.c.number)
        with self._database.reading() as connection:
            return tuple(Feedback(**row) for row in connection.execute(query).mappings())

    def since(self, moment: datetime) -> tuple[CardReport, ...]:
        """Every card shown since then with what was said to it; a card nobody answered comes once."""
        answers = (card_feedback.c.outcome, card_feedback.c.reason_code, card_feedback.c.given_at)
        query = (
            select(*(shown_card.c[name] for name in ("service_id", "situation", "card_id", "shown_at")), *answers)
            .join_from(shown_card, card_feedback, isouter=True)
            .where(shown_card.c.shown_at >= moment)
            .order_by(shown_card.c.shown_at, shown_card.c.card_id, card_feedback.c.number))
        with self._database.reading() as connection:
            return tuple(CardReport(**row) for row in connection.execute(query).mappings())
