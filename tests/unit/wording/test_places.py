"""Places, methods and dates as they are spoken."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import all_places
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.wording.dates import date_in_words
from service.wording.methods import method_in_words, skin_class_in_words
from service.wording.places import place_in_words


@pytest.mark.parametrize(("key", "words"), [
    ("left-thigh-front", "left thigh, front"),
    ("left-thigh", "left thigh"),
    ("face", "face"),
    ("anterior-trunk", "front of trunk"),
    ("right-lower-leg-back", "right lower leg, back"),
    ("left-thigh-front:full-thickness", "left thigh, front, full thickness"),
    ("left-thigh-front:full-thickness:joint", "left thigh, front, full thickness, over joint"),
    ("left-thigh-front:open-wound", "left thigh, front, open wound"),
    ("left-thigh-front:deep-partial:graft:2", "left thigh, front, deep partial"),
    ("right-thigh-front:parcel:1", "right thigh, front"),
])
def test_place_in_words(key, words):
    assert place_in_words(key) == words


def test_every_place_has_words_of_its_own():
    words = [place_in_words(place.key) for place in all_places()]
    assert len(set(words)) == len(words)
    assert not any("-" in word for word in words)


@pytest.mark.parametrize(("method", "words"), [
    (GraftMethod.SHEET, "sheet"), (GraftMethod.MESHED_1_1_5, "meshed 1:1.5"), (GraftMethod.ISLAND_1_4, "islands 1:4"),
])
def test_method_in_words(method, words):
    assert method_in_words(method) == words
    assert method.claimed_expansion_ratio >= Decimal(1)


def test_skin_class_names_the_clavicle_only_above():
    assert skin_class_in_words(SkinClass(Thickness.THIN, False)) == "thin"
    assert skin_class_in_words(SkinClass(Thickness.MEDIUM, True)) == "medium, above the clavicle"


def test_date_is_iso_with_weekday():
    assert date_in_words(date(2026, 3, 7)) == "2026-03-07 Sat"
