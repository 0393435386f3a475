"""The link of a card: there where requests are kept, and it opens the plan."""

from service.settings import Settings
from tests.cds_hooks.conftest import Record


def test_a_card_links_to_its_plan_while_requests_are_kept(due_call):
    keeping = Record(Settings(database="memory", keep_plan_hours=2))
    (card,) = keeping.cards(due_call)
    (link,) = card["links"]
    assert link["type"] == "absolute"
    page = keeping.http.get(link["url"].removeprefix("http://testserver"))
    assert page.status_code == 200
    assert "Graft plan: the whole course" in page.text


def test_the_link_has_the_address_that_callers_use(due_call):
    keeping = Record(Settings(database="memory", keep_plan_hours=2, public_base="https://plans.example"))
    (card,) = keeping.cards(due_call)
    assert card["links"][0]["url"].startswith("https://plans.example/plans/")


def test_without_keeping_there_is_no_link(record, due_call):
    (card,) = record.cards(due_call)
    assert "links" not in card
