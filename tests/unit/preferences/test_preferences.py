import csv
from decimal import Decimal

import pytest

from service.domain.body_region import REGIONS, Region
from service.domain.graft import GraftMethod
from service.preferences.library import TABLE, load_preferences

PREFERENCES = load_preferences()


@pytest.mark.parametrize("row", list(PREFERENCES), ids=lambda row: row.key)
def test_a_judgement_has_a_range_a_reason_and_somebody_to_set_it(row):
    assert row.low <= row.value <= row.high and row.low < row.high
    assert len(row.reason) > 10 and row.unit
    assert row.set_by == "burn team"
    assert row.read_as in {"M", "C"}


def test_no_judgement_stands_twice():
    with TABLE.open(newline="") as handle:
        keys = [(line["name"], line["applies_to"]) for line in csv.DictReader(handle)]
    assert len(keys) == len(set(keys))


def test_every_planned_region_has_both_weights():
    for region in set(REGIONS) - {Region.GENITALIA}:
        assert PREFERENCES.value("weight-function", region) > 0
        assert PREFERENCES.value("weight-life", region) > 0


def test_every_method_has_a_scar_and_wider_never_scars_less():
    for kind in ("meshed", "island"):
        scars = [PREFERENCES.value("scar", m) for m in GraftMethod if m.kind == kind]
        assert scars == sorted(scars)
    assert PREFERENCES.value("scar", GraftMethod.SHEET) == 0


def test_every_region_that_gives_skin_has_its_cosmesis():
    for region, facts in REGIONS.items():
        if facts.gives_skin:
            assert 0 < PREFERENCES.value("donor-cosmesis", region) <= 1


def test_a_caller_changes_one_value_and_only_that():
    changed = PREFERENCES.with_overrides((("rest-days", Decimal(3)), ("scar/island-1-9", Decimal(12))))
    assert changed.integer("rest-days") == 3
    assert changed.value("scar", "island-1-9") == 12
    assert changed.value("scar", "island-1-6") == PREFERENCES.value("scar", "island-1-6")
    assert PREFERENCES.integer("rest-days") == 2


@pytest.mark.parametrize(("key", "value", "error"), [
    ("rest-days", "0", ValueError),
    ("planning-quantile", "0.51", ValueError),
    ("rest-hours", "2", KeyError),
])
def test_a_value_outside_its_range_or_an_unknown_name_is_refused(key, value, error):
    with pytest.raises(error):
        PREFERENCES.with_overrides(((key, Decimal(value)),))
