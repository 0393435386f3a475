from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from threading import Thread

from service.domain.card import CardReport, Feedback
from service.storage.kept_plan import KeptPlan
from service.storage.service_keys import ServiceKeys
from service.storage.shown_cards import ShownCard

NOW = datetime(2026, 3, 4, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


def card(card_id="card-1", *, patient="p" * 64, service="next-due", situation="inspect-graft", at=NOW):
    return ShownCard(card_id, patient, service, situation, at)


def told(storage, patient="p" * 64, service="next-due", but=""):
    return storage.shown_cards.told(patient, service, but=but)


def kept(plan_id="plan-1", body=b"{}", expires_at=NOW + HOUR):
    return KeptPlan(plan_id, body, "2026-03-04T08:00:00+01:00", "2", expires_at)


def test_a_token_is_let_in_once(storage):
    def remember(issuer, token_id):
        return storage.seen_tokens.remember(issuer, token_id, expires_at=NOW + HOUR, now=NOW)

    assert [remember("a", "1"), remember("a", "1"), remember("a", "2"), remember("b", "1")] == [True, False, True, True]


def test_of_many_at_once_one_is_let_in(storage):
    let_in = []

    def remember():
        let_in.append(storage.seen_tokens.remember("a", "1", expires_at=NOW + HOUR, now=NOW))

    threads = [Thread(target=remember) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(let_in) == [False] * 7 + [True]


def test_a_token_is_forgotten_when_it_has_expired_not_before(storage):
    def remember(now):
        return storage.seen_tokens.remember("a", "1", expires_at=NOW + HOUR, now=now)

    assert [remember(NOW), remember(NOW + HOUR), remember(NOW + 2 * HOUR)] == [True, False, True]


def test_what_a_card_tells_is_known_of_this_patient_to_this_service(storage):
    assert storage.shown_cards.add(card("1"), {"a": None, "b": Decimal("1869.4")})
    assert told(storage) == {"a": None, "b": Decimal("1869.4")}
    assert told(storage, patient="q" * 64) == told(storage, service="check-order") == {}
    assert told(storage, but="1") == {}, "the same call sent again learns it again"
    assert storage.shown_cards.find("1") == card("1")


def test_what_is_told_anew_belongs_to_the_later_card(storage):
    storage.shown_cards.add(card("1"), {"a": Decimal(100), "b": None})
    assert storage.shown_cards.add(card("2"), {"a": Decimal(200), "b": None})
    assert told(storage) == {"a": Decimal(200), "b": None}
    assert told(storage, but="2") == {"b": None}


def test_of_two_cards_that_tell_the_same_one_is_given(storage):
    assert storage.shown_cards.add(card("1"), {"a": None})
    assert not storage.shown_cards.add(card("2"), {"a": None})
    assert storage.shown_cards.add(card("1"), {"a": None}), "the same call sent again"
    assert storage.shown_cards.find("2") is None


def test_a_moment_comes_back_as_the_same_moment(storage):
    there = NOW.astimezone(timezone(timedelta(hours=9)))
    storage.shown_cards.add(card(at=there), {"a": None})
    assert storage.shown_cards.find("card-1").shown_at == NOW


def test_feedback_is_kept_for_cards_that_were_shown(storage):
    storage.shown_cards.add(card(), {"a": None})
    said = Feedback("card-1", "overridden", "patient-unfit", NOW)
    assert storage.card_feedback.add(said)
    assert storage.card_feedback.add(Feedback("card-1", "accepted", None, NOW + HOUR))
    assert not storage.card_feedback.add(Feedback("another", "accepted", None, NOW))
    assert storage.card_feedback.of("card-1")[0] == said
    assert storage.card_feedback.add(said), "reported again"
    assert [one.outcome for one in storage.card_feedback.of("card-1")] == ["overridden", "accepted"]


def test_a_report_holds_every_card_with_what_was_said_to_it(storage):
    storage.shown_cards.add(card(), {"a": None})
    storage.shown_cards.add(card("2", situation="theatre-session", at=NOW + HOUR), {"b": None})
    storage.card_feedback.add(Feedback("2", "overridden", "patient-unfit", NOW + 2 * HOUR))
    assert storage.card_feedback.since(NOW) == (
        CardReport("next-due", "inspect-graft", "card-1", NOW, None, None, None),
        CardReport("next-due", "theatre-session", "2", NOW + HOUR, "overridden", "patient-unfit", NOW + 2 * HOUR))
    assert [one.card_id for one in storage.card_feedback.since(NOW + HOUR)] == ["2"]


def test_old_cards_go_with_their_feedback(storage):
    storage.shown_cards.add(card(), {"a": None})
    storage.shown_cards.add(card("2", at=NOW + HOUR), {"b": None})
    storage.card_feedback.add(Feedback("card-1", "accepted", None, NOW))
    assert storage.shown_cards.forget_before(NOW + HOUR) == 1
    assert storage.card_feedback.of("card-1") == ()
    assert storage.shown_cards.find("2")
    assert told(storage) == {"b": None}


def test_a_request_is_found_until_it_expires(storage):
    storage.kept_plans.keep(kept(), now=NOW)
    storage.kept_plans.keep(kept(body=b"[]"), now=NOW)
    assert storage.kept_plans.find("plan-1", now=NOW + HOUR) == kept(body=b"[]")
    assert storage.kept_plans.find("plan-1", now=NOW + 2 * HOUR) is None
    assert storage.kept_plans.drop_expired(NOW + 2 * HOUR) == 1
    assert storage.kept_plans.find("plan-1", now=NOW) is None


def test_keeping_one_request_drops_those_that_have_expired(storage):
    storage.kept_plans.keep(kept(), now=NOW)
    storage.kept_plans.keep(kept("plan-2", expires_at=NOW + 3 * HOUR), now=NOW + 2 * HOUR)
    assert storage.kept_plans.find("plan-1", now=NOW) is None


def test_a_keyed_hash_stays_the_same_for_its_purpose_and_database(storage):
    hashed = storage.keys.keyed_hash("patient", "Patient/1")
    assert hashed == ServiceKeys(storage.database).keyed_hash("patient", "Patient/1")
    others = {storage.keys.keyed_hash("patient", "Patient/2"), storage.keys.keyed_hash("link", "Patient/1")}
    assert len({hashed, *others}) == 3
