"""The record that a page carries comes back as it was, and nothing else is taken for one."""

import zlib
from base64 import b64encode

import pytest

from service.api.carried_record import pack_record, unpack_record
from tests.conftest import FIRST_PLAN

CAP = 8_000_000


@pytest.mark.parametrize("body", [b"", b"{}", FIRST_PLAN.read_bytes(), bytes(range(256))])
def test_what_was_packed_is_unpacked(body):
    assert unpack_record(pack_record(body), CAP) == body


def test_a_packed_sample_is_a_small_part_of_it():
    body = FIRST_PLAN.read_bytes()
    assert len(pack_record(body)) * 5 < len(body)


@pytest.mark.parametrize("text", ["", "!", "abcd", b64encode(b"not packed").decode(), pack_record(b"x" * 99)[:-8]])
def test_other_text_is_refused(text):
    with pytest.raises(ValueError):
        unpack_record(text, CAP)


def test_a_record_that_unpacks_beyond_the_cap_is_refused_without_being_unpacked():
    bomb = b64encode(zlib.compress(b"0" * 50_000_000, 9)).decode()
    with pytest.raises(ValueError):
        unpack_record(bomb, 10_000)
