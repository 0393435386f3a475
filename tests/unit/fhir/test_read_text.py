"""The text of the dry run: complete, and no wider than a terminal."""

from service.fhir.read_text import COLUMNS, write_read_text
from tests import builders as make
from tests.unit.fhir.reading import read


def test_extents_are_printed_by_region_and_side():
    text = write_read_text(read(make.burn_wound("left thigh front", "4.5"), {"resourceType": "Claim"}))
    assert "can be planned" in text and "left thigh, front: 4.5 % of body surface, full thickness" in text
    assert "1 x Claim" in text


def test_what_is_missing_and_wrong_is_printed():
    text = write_read_text(read(make.burn_wound(depth=None), make.burn_wound("thigh", 3)))
    assert "cannot be planned yet" in text
    assert "Depth is never guessed" in text and "[side-missing]" in text


def test_no_line_is_wider_than_a_terminal_unless_it_is_one_word():
    text = write_read_text(read(make.burn_wound(depth="none"), make.burn_wound(percent="6.5")))
    assert all(len(line) <= COLUMNS or " " not in line.strip() for line in text.splitlines())
