"""Catalogues are complete and keep their places for numbers; numbers and dates follow the language."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po

from service.domain.body_region import all_places
from service.domain.burn_wound import Depth
from service.domain.finding import Severity
from service.domain.graft import GraftMethod, Thickness
from service.settings import Settings
from service.wording.catalogue import load_table
from service.wording.languages import LOCALE, gettext_for, languages, localise
from service.wording.methods import method_in_words
from service.wording.places import place_in_words, surface_in_words

CODES = ("ar", "de", "es", "fr")
FOLDERS = (Path("service/sheet"), Path("service/wording"), Path("service/api"))
#: What is printed of the tables of sentences, by table.
TABLES = {
    "findings": ("title", "question", "text", "mitigation"), "limits": ("text",), "rules": ("held_back_by",),
    "events": ("short",), "goals": ("text",), "preparation": ("text",), "reasons": ("text",), "steps": ("text",),
    "theatre_team": ("text",), "variants": ("text",), "weights": ("text",),
}
PLACES = r"%\(\w+\)s|%%|\{\w+\}"
METHODS = [("**.py", "python"), ("templates/**.html", "jinja2"), ("templates/**.svg", "jinja2")]
OPTIONS = {"templates/**.html": {"extensions": "jinja2.ext.i18n", "newstyle_gettext": "true"},
           "templates/**.svg": {"extensions": "jinja2.ext.i18n", "newstyle_gettext": "true"}}


def messages_of_code() -> set[str]:
    """What code and templates say, in the form that a catalogue holds."""
    keywords = {"_": None, "N_": None, "gettext": None, "self": None, "ngettext": (1, 2)}
    return {
        message[0] if isinstance(message, tuple) else message
        for folder in FOLDERS
        for _, _, message, _, _ in extract_from_dir(str(folder), METHODS, OPTIONS, keywords)}


def sentences_of_tables() -> set[str]:
    """Every sentence of the tables; what an order of cover is about is filled in."""
    told = {row[column] for name, columns in TABLES.items() for row in load_table(name).values() for column in columns}
    orders = {text.format(act=act) for text in told if "{act} cover" in text for act in ("Order", "Reserve")}
    return {text for text in told if text and "{act} cover" not in text} | orders


def words_of_pages() -> set[str]:
    """Every message and sentence, and every place, depth, method, thickness and severity that pages print."""
    places = {words for place in all_places() for words in (
        surface_in_words(place), place_in_words(place.region_key), place_in_words(str(place.region)))}
    return {
        *messages_of_code(), *sentences_of_tables(), *map(str, Severity),
        *places, *map(method_in_words, GraftMethod), *map(str, Thickness),
        *(depth.replace("-", " ") for depth in Depth), "supine", "prone"}


def catalogue(code: str) -> dict:
    read = read_po(BytesIO((LOCALE / f"{code}.po").read_bytes()))
    return {m.id[0] if isinstance(m.id, tuple) else m.id: m for m in read if m.id}


def test_the_pages_have_words_and_four_languages_are_shipped_switched_off():
    assert len(messages_of_code()) > 300
    assert len(sentences_of_tables()) > 300
    assert set(languages()) == {"en", *CODES}
    assert Settings().languages == ()
    assert [code for code, language in languages().items() if language.reviewed] == ["en"]


@pytest.mark.parametrize("code", CODES)
def test_a_catalogue_has_every_word_and_no_other(code):
    held = catalogue(code)
    assert words_of_pages() - set(held) == set()
    assert set(held) - words_of_pages() == set()
    assert all(all(m.string if isinstance(m.string, tuple) else [m.string]) for m in held.values())


@pytest.mark.parametrize("code", CODES)
def test_translations_keep_the_places_for_numbers(code):
    for name, message in catalogue(code).items():
        forms = message.string if isinstance(message.string, tuple) else (message.string,)
        for form in forms:
            assert set(re.findall(PLACES, form)) == set(re.findall(PLACES, name)), name
            assert form.count("{") == len(re.findall(r"\{\w+\}", form)), name


@pytest.mark.parametrize("code, direction", [("en", "ltr"), ("de", "ltr"), ("es", "ltr"), ("fr", "ltr"), ("ar", "rtl")])
def test_each_language_has_its_direction(code, direction):
    assert languages()[code].direction == direction


@pytest.mark.parametrize("code, count, expected", [
    ("de", 1, "%(num)s Tag alt"), ("de", 2, "%(num)s Tage alt"), ("ar", 2, "قبل يومين (%(num)s)"),
    ("ar", 5, "قبل %(num)s أيام"), ("en", 2, "%(num)s days old")])
def test_plurals_follow_the_language(code, count, expected):
    assert gettext_for(languages()[code]).ngettext("%(num)s day old", "%(num)s days old", count) == expected


@pytest.mark.parametrize("code, expected", [
    ("en", "1,235 cm² (4.2 %TBSA), 2026-03-07 Sat, meshed 1:1.5, no. 2"),
    ("de", "1.235 cm² (4,2 %KOF), Sa., 7. März 2026, meshed 1:1.5, no. 2"),
    ("es", "1.235 cm² (4,2 %SCT), sáb, 7 mar 2026, meshed 1:1.5, no. 2"),
])
def test_numbers_and_dates_are_written_as_the_language_does(code, expected):
    text = "1,235 cm² (4.2 %TBSA), 2026-03-07 Sat, meshed 1:1.5, no. 2"
    assert localise(text, languages()[code]) == expected


@pytest.mark.parametrize("text, expected", [
    ("745 cm² (3.7 %TBSA)", "\u2066745 cm²\u2069 (\u20663.7 %TBSA\u2069)"),
    ("11,227 cm² (700-940)", "\u206611,227 cm²\u2069 (\u2066700-940\u2069)"),
    ("و2026-05-27 Wed.", "والأربعاء، 27 مايو 2026."),
    ("15 (1:1.5)", "15 (1:1.5)"),
])
def test_a_measure_reads_from_left_to_right_inside_arabic(text, expected):
    assert localise(text, languages()["ar"]) == expected


@pytest.mark.parametrize("text, expected", [
    ("(1,513-2,143)", "(1.513-2.143)"), ("4.2-5.1 %", "4,2-5,1 %"), ("session-1.5", "session-1.5")])
def test_both_ends_of_a_range_are_written_as_the_language_does(text, expected):
    assert localise(text, languages()["de"]) == expected


@pytest.mark.parametrize("code", CODES)
def test_names_versions_and_addresses_are_no_numbers(code):
    for text in ("1:1.5", "http://127.0.0.1:8000", "0.1.0", "f3b9192cdb99", "session-1"):
        assert localise(text, languages()[code]) == text
