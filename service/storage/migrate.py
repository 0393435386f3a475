"""Brings a database to the tables of this release. The migrations are part of the package."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from service.domain.errors import StorageFault
from service.storage.database import Database

_SCRIPTS = Path(__file__).parent / "migrations"


def migrate(database: Database) -> str:
    """Apply what is missing; says the revision reached.

    Raises ``StorageFault`` when the database cannot be written or was made by a later release.
    """
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    scripts = ScriptDirectory.from_config(config)
    known = {script.revision for script in scripts.walk_revisions()}
    with database.writing() as connection:
        found = MigrationContext.configure(connection).get_current_revision()
        if found and found not in known:
            raise StorageFault("the database was made by a later release")
        if found != scripts.get_current_head():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    return scripts.get_current_head()
