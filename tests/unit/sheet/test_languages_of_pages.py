"""Pages in another language say everything in it, but for what is marked as English."""

import re
from html import unescape

import pytest

from service.sheet.drawn_words import outline_joined_letters, runs_right_to_left
from service.sheet.render import write_list_html, write_sheet_html
from service.wording.languages import Words, languages, localise
from service.wording.plan_difference import word_plan_difference
from tests.planned_samples import PLANNED, reply_to

ARABIC = languages()["ar"]
#: Names and units: what an Arabic page may write in Latin letters.
NAMES = {"Graftstage", "TBSA"}


def latin_words(html: str) -> set[str]:
    """Words of four Latin letters and more, outside tags, styles, hashes and what is marked as English."""
    text = re.sub(r"<(ul|li|p|style|svg)\b[^>]*?lang=\"en\".*?</\1>", " ", html, flags=re.DOTALL)
    text = re.sub(r"<style.*?</style>|<defs.*?</defs>", " ", text, flags=re.DOTALL)
    text = unescape(re.sub(r"<[^>]*>", " ", text))
    return set(re.findall(r"(?<![\w/])[A-Za-z]{4,}(?![\w/])", text))


def spoken_in(html: str, zone: str) -> set[str]:
    return latin_words(html.replace(zone, "")) - NAMES


@pytest.mark.parametrize("name", PLANNED)
def test_nothing_of_a_sheet_is_left_in_english(name):
    reply = reply_to(name)
    html = write_sheet_html(reply.answer, reply.sha256, ARABIC)
    assert spoken_in(html, reply.answer.case.request.time_zone) == set()


def test_what_changed_since_the_plan_before_stands_on_the_sheet_in_the_language_of_the_page():
    reply = reply_to("replanned-donor-still-healing")
    html = write_sheet_html(reply.answer, reply.sha256, ARABIC)
    assert spoken_in(html, reply.answer.case.request.time_zone) == set()
    changed = word_plan_difference(reply.answer, Words(ARABIC))
    assert len(changed) >= 3
    assert all(localise(sentence, ARABIC) in unescape(html) for sentence in changed)
    assert "plan of" not in write_sheet_html(reply.answer, reply.sha256, languages()["en"]).split('id="grounds"')[1]


@pytest.mark.parametrize("name", PLANNED)
def test_nothing_of_a_theatre_list_is_left_in_english(name):
    reply = reply_to(name)
    for session in reply.answer.plan.settled.sessions:
        html = write_list_html(reply.answer, session.ordinal, reply.sha256, ARABIC)
        assert spoken_in(html, reply.answer.case.request.time_zone) == set()


def test_letters_that_join_are_drawn_as_outlines_for_the_pdf_writer_sets_them_one_by_one():
    reply = reply_to(PLANNED[0])
    html = write_sheet_html(reply.answer, reply.sha256, ARABIC)
    words = re.findall(r"<text\b[^>]*>([^<]*)</text>", html)
    printed = re.findall(r"<text\b[^>]*>([^<]*)</text>", outline_joined_letters(html))
    assert any(map(runs_right_to_left, words)) and not any(map(runs_right_to_left, printed))
    assert len(printed) == sum(not runs_right_to_left(word) for word in words)


@pytest.mark.parametrize("anchor, left", [("start", 10.0), ("middle", 5.0), ("end", 0.0)])
def test_an_outline_stands_where_its_text_stood(anchor, left):
    text = f'<text x="10" y="7" text-anchor="{anchor}" font-size="7">يمين</text>'
    drawn = outline_joined_letters(text)
    width = 2 * (10 - float(re.search(r"translate\(([-\d.]+) 7", outline_joined_letters(
        text.replace(anchor, "middle")))[1]))
    at = float(re.search(r"translate\(([-\d.]+) 7\.00\)", drawn)[1])
    assert width > 0
    assert at == pytest.approx(10 - width * (10 - left) / 10, abs=0.02)
    assert outline_joined_letters(text.replace("يمين", "right")) == text.replace("يمين", "right")


@pytest.mark.parametrize("name", PLANNED)
def test_a_finding_about_several_places_stands_once(name):
    reply = reply_to(name)
    html = write_sheet_html(reply.answer, reply.sha256, languages()["en"])
    grounds = html.split('id="grounds"')[1].split("</ul>")[0]
    titles = re.findall(r"<b>(.*?)</b>", grounds)
    assert titles and len(titles) == len(set(titles))
