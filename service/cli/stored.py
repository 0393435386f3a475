"""The database for commands: one that is there already, or the one that a command was told to record in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from service.cli.exit_codes import UsageFault

if TYPE_CHECKING:
    from service.settings import Settings
    from service.storage.storage import Storage


def open_existing() -> Storage:
    """The database of the settings. Raises ``UsageFault`` when there is none yet: looking must not make one."""
    from service.settings import load_settings, mask_password
    from service.storage.database import is_there
    from service.storage.storage import open_storage

    setting = load_settings().database
    if not is_there(setting):
        raise UsageFault(f"there is no database at {mask_password(setting)}")
    return open_storage(setting)


def open_to_record(settings: Settings) -> Storage | None:
    """Where a command leaves its rows: only where the settings name a database that outlives it."""
    from service.settings import DATABASE_IN_MEMORY

    if "database" not in settings.model_fields_set or settings.database == DATABASE_IN_MEMORY:
        return None
    from service.storage.storage import open_storage

    return open_storage(settings.database)
