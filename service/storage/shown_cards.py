"""Cards that were shown: what keeps the same situation from being shown twice."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import delete, select

from service.storage.database import Database, insert_once
from service.storage.tables import card_feedback, shown_card


@dataclass(frozen=True)
class ShownCard:
    """One card. ``patient_hash`` is keyed (``service_keys``); ``situation`` is a fingerprint of what it was about."""

    card_id: str
    patient_hash: str
    service_id: str
    situation: str
    shown_at: datetime  # aware


class ShownCards:
    """The cards of every patient, without naming one."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, card: ShownCard) -> bool:
        """Remember a card; ``False`` when its id is there already."""
        with self._database.writing() as connection:
            return insert_once(connection, shown_card, asdict(card))

    def find(self, card_id: str) -> ShownCard | None:
        """The card of an id."""
        return self._first(select(shown_card).where(shown_card.c.card_id == card_id))

    def latest(self, patient_hash: str, service_id: str) -> ShownCard | None:
        """What this service showed last for this patient."""
        return self._first(
            select(shown_card)
            .where(shown_card.c.patient_hash == patient_hash, shown_card.c.service_id == service_id)
            .order_by(shown_card.c.shown_at.desc(), shown_card.c.card_id)
            .limit(1))

    def forget_before(self, moment: datetime) -> int:
        """Drop older cards with their feedback; says how many cards."""
        old = select(shown_card.c.card_id).where(shown_card.c.shown_at < moment)
        with self._database.writing() as connection:
            connection.execute(delete(card_feedback).where(card_feedback.c.card_id.in_(old)))
            return connection.execute(delete(shown_card).where(shown_card.c.shown_at < moment)).rowcount

    def _first(self, query: object) -> ShownCard | None:
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return ShownCard(**row) if row else None
