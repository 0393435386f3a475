"""What several tests of the service over HTTP share."""

import pytest

from service.storage.storage import open_storage


@pytest.fixture
def new_rows(database):
    """The rows that a test leaves in the audit trail of its module's ``database``."""
    trail = open_storage(database).trail
    before = trail.head()[0]
    return lambda: [row for row in trail.rows() if row.sequence > before]
