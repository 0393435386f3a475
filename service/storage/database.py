"""One database, SQLite or PostgreSQL: how it is reached, written to and read.

Writers of one trail come one after the other: SQLite takes its write lock at the start of a transaction, PostgreSQL
an advisory lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, Table, create_engine, event, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DisconnectionError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from service.domain.errors import StorageFault
from service.settings import DATABASE_IN_MEMORY, DATABASE_IN_STATE_FOLDER, state_folder

FILE_NAME = "graftstage.sqlite"
#: How long a transaction waits for its turn before the database counts as lost. [ms]
PATIENCE_MILLISECONDS = 5_000
#: Names the writers of this service among all users of a PostgreSQL server: the bytes of "graft".
_WRITERS_LOCK = int.from_bytes(b"graft")
_TAKES_WRITE_LOCK = {"takes_write_lock": True}


class Database:
    """Where rows are kept. Everything that goes wrong with it is a ``StorageFault`` that names no value."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database."""
        with _faults_named(), self.engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that no other writer of this service runs beside; undone when the block raises."""
        with _faults_named(), self.engine.connect() as connection:
            connection = connection.execution_options(**_TAKES_WRITE_LOCK)
            with connection.begin():
                if connection.dialect.name == "postgresql":
                    connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _WRITERS_LOCK})
                yield connection

    def close(self) -> None:
        self.engine.dispose()


def open_database(setting: str) -> Database:
    """The database that the setting ``GRAFTSTAGE_DATABASE`` names; a SQLite file is made with its folder.

    Raises ``StorageFault`` when the setting cannot be read or the folder cannot be made.
    """
    url = _url_of(setting)
    if url.get_backend_name() == "postgresql":
        return Database(_postgresql(url))
    return Database(_sqlite(url))


def is_there(setting: str) -> bool:
    """Whether the file of a setting exists; what runs on a server is looked for by opening it."""
    url = _url_of(setting)
    return url.get_backend_name() == "postgresql" or bool(url.database) and Path(url.database).exists()


def insert_once(connection: Connection, table: Table, row: Mapping[str, object]) -> bool:
    """Add a row unless its key is there already; says whether it was added."""
    insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    added = insert(table).values(**row).on_conflict_do_nothing().returning(*table.primary_key)
    return connection.execute(added).first() is not None


def _url_of(setting: str) -> URL:
    if setting == DATABASE_IN_MEMORY:
        return URL.create("sqlite")
    if setting == DATABASE_IN_STATE_FOLDER:
        return URL.create("sqlite", database=str(state_folder() / FILE_NAME))
    if "://" not in setting:
        return URL.create("sqlite", database=setting)
    try:
        url = make_url(setting)
    except (ArgumentError, ValueError):
        raise StorageFault("the database setting is neither a file nor a URL") from None
    if url.get_backend_name() not in ("postgresql", "sqlite"):
        raise StorageFault("the database setting names a server of an unknown kind")
    return url.set(drivername="postgresql+psycopg") if url.get_backend_name() == "postgresql" else url


def _postgresql(url: URL) -> Engine:
    wait = f"-c lock_timeout={PATIENCE_MILLISECONDS} -c statement_timeout={2 * PATIENCE_MILLISECONDS}"
    return create_engine(
        url, pool_pre_ping=True, pool_timeout=PATIENCE_MILLISECONDS / 1000, hide_parameters=True,
        connect_args={"connect_timeout": PATIENCE_MILLISECONDS // 1000, "options": wait})


def _sqlite(url: URL) -> Engine:
    in_memory = not url.database or url.database == ":memory:"
    if not in_memory:
        _make_private(Path(url.database))
    # A database in memory lives in its one connection, which every thread waits for.
    sizes = {"pool_size": 1, "max_overflow": 0} if in_memory else {}
    engine = create_engine(
        url, poolclass=QueuePool, hide_parameters=True, **sizes,
        connect_args={"check_same_thread": False, "timeout": PATIENCE_MILLISECONDS / 1000})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    if not in_memory:
        _notice_another_file(engine, Path(url.database))
    return engine


def _notice_another_file(engine: Engine, file: Path) -> None:
    """A connection that is held would go on writing into a file that has been deleted: it is given up instead."""

    def note(_connection: sqlite3.Connection, record: ConnectionPoolEntry) -> None:
        record.info["file"] = _identity_of(file)

    def compare(_connection: sqlite3.Connection, record: ConnectionPoolEntry, _proxy: object) -> None:
        if record.info["file"] != _identity_of(file):
            raise DisconnectionError("the database file has been deleted or replaced")

    def require(*_: object) -> None:
        if _identity_of(file) is None:
            raise DisconnectionError("the database file is gone")  # an empty one in its place would hide it

    event.listen(engine, "do_connect", require)
    event.listen(engine, "connect", note)
    event.listen(engine, "checkout", compare)


def _identity_of(file: Path) -> tuple[int, int] | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _make_private(file: Path) -> None:
    """Folder and file for the account of the service only."""
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        file.touch(mode=0o600)
    except OSError as error:
        raise StorageFault(f"the database file cannot be made: {error.strerror}") from None


def _prepare_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    """Rows survive a loss of power, dropped ones are overwritten, transactions begin where this service says."""
    connection.isolation_level = None
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    takes_lock = connection.get_execution_options().get("takes_write_lock")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if takes_lock else "BEGIN")


@contextmanager
def _faults_named() -> Iterator[None]:
    """The text of a database error may repeat a statement's values: only its kind leaves."""
    try:
        yield
    except SQLAlchemyError as error:
        raise StorageFault(f"the database failed ({type(error).__name__})") from error
