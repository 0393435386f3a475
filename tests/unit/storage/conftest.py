"""Each storage test runs on a SQLite file and on a PostgreSQL server."""

from itertools import count

import psycopg
import pytest

from service.storage.database import open_database
from service.storage.migrate import migrate
from service.storage.storage import Storage

_numbers = count(1)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_setting(request, tmp_path):
    """The setting of a database that does not exist yet, or is empty."""
    if request.param == "sqlite":
        return str(tmp_path / "new" / "graftstage.sqlite")
    url = request.getfixturevalue("postgresql_url")
    name = f"storage_{next(_numbers)}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return url.replace("/postgres?", f"/{name}?")


@pytest.fixture
def database(database_setting):
    """An empty database with the tables of this release."""
    opened = open_database(database_setting)
    migrate(opened)
    yield opened
    opened.close()


@pytest.fixture
def storage(database):
    return Storage(database)
