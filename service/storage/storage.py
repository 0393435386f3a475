"""Everything that is remembered, by table."""

from __future__ import annotations

from functools import cached_property

from service.storage.audit_trail import AuditTrail
from service.storage.card_feedback import CardFeedback
from service.storage.database import Database, open_database
from service.storage.kept_plans import KeptPlans
from service.storage.migrate import migrate
from service.storage.seen_tokens import SeenTokens
from service.storage.service_keys import ServiceKeys
from service.storage.shown_cards import ShownCards


class Storage:
    """One migrated database with a door to each of its tables."""

    def __init__(self, database: Database) -> None:
        self.database = database

    @cached_property
    def trail(self) -> AuditTrail:
        return AuditTrail(self.database)

    @cached_property
    def seen_tokens(self) -> SeenTokens:
        return SeenTokens(self.database)

    @cached_property
    def shown_cards(self) -> ShownCards:
        return ShownCards(self.database)

    @cached_property
    def card_feedback(self) -> CardFeedback:
        return CardFeedback(self.database)

    @cached_property
    def kept_plans(self) -> KeptPlans:
        return KeptPlans(self.database)

    @cached_property
    def keys(self) -> ServiceKeys:
        return ServiceKeys(self.database)


def open_storage(setting: str) -> Storage:
    """The database of a setting, with the tables of this release.

    Raises ``StorageFault`` when it cannot be reached, written or understood.
    """
    database = open_database(setting)
    migrate(database)
    return Storage(database)
