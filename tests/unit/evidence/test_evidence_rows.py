"""Every evidence row is complete, sourced, and backed by the words it was read from."""

import csv
import re
from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest

from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.evidence.distributions import read_distribution
from service.evidence.library import TABLES, EvidenceRow, load_evidence, tables_hash

TESTS = Path(__file__).parents[2]
EVIDENCE = load_evidence()
ROWS = tuple(EVIDENCE)
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as handle:
        return list(csv.DictReader(handle))


SOURCES = {line["id"]: line for line in read_csv(TABLES.parent / "sources.csv")}
EXTRACTS = {
    f"{line['file']} {line['section']}: {line['label']}": line
    for line in read_csv(TESTS / "evidence_extracts.csv")
}


def numbers_in(text: str) -> set[Decimal]:
    """Numbers of an excerpt; a percentage also as the fraction it means."""
    plain = {Decimal(n.replace(",", "")) for n in NUMBER.findall(text)}
    return plain | {Decimal(n) / 100 for n in re.findall(r"(\d+(?:\.\d+)?)%", text)}


def is_backed(row: EvidenceRow, extract: dict[str, str]) -> bool:
    printed = numbers_in(f"{extract['label']} {extract['text']}")
    wanted = {number for number in (row.value, row.low, row.high) if number is not None}
    return wanted <= printed and row.read_as == extract["key"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.row_id)
def test_row_is_backed_by_the_place_it_names(row):
    assert is_backed(row, EXTRACTS[row.place])


def test_a_changed_number_or_key_is_not_backed():
    row = EVIDENCE.row("take", "island")
    extract = EXTRACTS[row.place]
    assert is_backed(row, extract)
    for change in ({"value": Decimal("0.83")}, {"high": Decimal("0.96")}, {"read_as": "M"}):
        assert not is_backed(EvidenceRow(**{**vars(row), **change}), extract)


def test_every_extract_backs_a_row():
    assert set(EXTRACTS) == {row.place for row in ROWS}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.row_id)
def test_row_is_complete(row):
    assert row.source in SOURCES
    assert row.read_as in set("APRDMC")
    assert row.unit and row.confidence
    name, _ = read_distribution(row.distribution)
    if name == "fixed":
        assert row.low is None and row.high is None
    else:
        assert row.low <= row.value <= row.high and row.low < row.high


def test_rows_from_memory_say_so_and_no_other_does():
    assert any(row.read_as == "M" for row in ROWS)
    for row in ROWS:
        assert row.citation.endswith("(M)") == (row.read_as == "M")


def test_common_practice_and_its_key_go_together():
    for row in ROWS:
        assert (row.source == "common-practice") == (row.read_as == "C"), row.row_id


def test_every_source_is_used_and_described():
    assert {row.source for row in ROWS} == set(SOURCES)
    assert all(line["citation"] for line in SOURCES.values())


def test_the_rows_that_the_methods_need_exist():
    needed = {f"achieved-expansion-ratio/{m}" for m in GraftMethod}
    needed |= {f"closure-days/{m}" for m in GraftMethod}
    needed |= {f"{name}/{kind}" for name in ("take", "read-day") for kind in GraftKind}
    needed |= {f"thickness-mm/{thickness}" for thickness in Thickness}
    needed |= {
        f"donor-healing-days/{site}-{thickness}-{age}"
        for site, thickness, age in product(("scalp", "thigh", "body"), Thickness, ("child", "adult", "old"))
    }
    assert needed <= {row.row_id for row in ROWS}


def test_lock_pins_the_tables():
    locked = (TABLES.parent / "evidence.lock").read_text().split()[0]
    assert locked == tables_hash() == EVIDENCE.sha256


def test_a_missing_row_is_an_error_and_has_no_default():
    with pytest.raises(KeyError, match="take/cultured"):
        EVIDENCE.value("take", "cultured")


def test_wider_expansion_covers_more_and_closes_later():
    meshed = [m for m in GraftMethod if m.kind is GraftKind.MESHED]
    islands = [m for m in GraftMethod if m.kind is GraftKind.ISLAND]
    for methods, parameter in product((meshed, islands), ("achieved-expansion-ratio", "closure-days")):
        values = [EVIDENCE.value(parameter, m) for m in methods]
        assert values == sorted(values) and len(set(values)) == len(values)


def test_achieved_never_exceeds_claimed_expansion():
    for method in GraftMethod:
        assert EVIDENCE.value("achieved-expansion-ratio", method) <= method.claimed_expansion_ratio
