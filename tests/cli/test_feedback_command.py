"""``graftstage feedback``: what was shown, accepted and overridden, and why."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from service.cli.main import main
from service.domain.card import Feedback
from service.storage.shown_cards import ShownCard
from service.storage.storage import open_storage

NOW = datetime(2026, 3, 4, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def file(tmp_path, monkeypatch):
    path = tmp_path / "graftstage.sqlite"
    monkeypatch.setenv("GRAFTSTAGE_DATABASE", str(path))
    return path


@pytest.fixture
def told(file):
    """Four cards: one accepted, one overridden after it was accepted, one overridden, one without an answer."""
    storage = open_storage(str(file))
    about = {"1": "theatre-session", "2": "theatre-session", "3": "inspect-graft", "4": "theatre-session"}
    for number, (card_id, situation) in enumerate(about.items()):
        storage.shown_cards.add(
            ShownCard(card_id, "p" * 64, "graft-plan", situation, NOW + number * HOUR), {card_id: None})
    for card_id, outcome, reason in (
        ("1", "accepted", None), ("2", "accepted", None), ("2", "overridden", "planned-otherwise"),
        ("3", "overridden", None)):
        storage.card_feedback.add(Feedback(card_id, outcome, reason, NOW + 9 * HOUR))
    storage.database.close()


def printed(capsys, *arguments) -> str:
    assert main(["feedback", *arguments]) == 0
    return capsys.readouterr().out


def test_it_counts_each_card_once_by_what_was_said_last(told, capsys):
    situations = json.loads(printed(capsys, "--json"))["situations"]
    session, graft = situations
    assert (session["situation"], session["shown"], session["accepted"], session["overridden"],
            session["unanswered"], session["reasons"]) == ("theatre-session", 3, 1, 1, 1, {"planned-otherwise": 1})
    assert (graft["situation"], graft["overridden"], graft["reasons"]) == ("inspect-graft", 1, {"no reason given": 1})


def test_it_prints_a_table_with_reasons(told, capsys):
    text = printed(capsys)
    lines = [" ".join(line.split()) for line in text.splitlines()]
    assert "theatre session 3 1 1 1" in lines
    assert "all cards 4 1 2 1" in lines
    assert "planned otherwise 1 theatre session" in lines
    assert max(map(len, text.splitlines())) <= 80


def test_since_leaves_out_earlier_cards(told, capsys):
    since = (NOW + 3 * HOUR).isoformat()
    assert [s["shown"] for s in json.loads(printed(capsys, "--json", "--since", since))["situations"]] == [1]
    assert printed(capsys, "--since", (NOW + 9 * HOUR).isoformat()) == "No card was shown.\n"


def test_looking_makes_no_database(file, capsys):
    assert main(["feedback"]) == 2
    assert "there is no database" in capsys.readouterr().err and not file.exists()
