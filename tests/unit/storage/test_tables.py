from datetime import UTC, datetime, timedelta, timezone
from threading import Thread

from service.storage.card_feedback import Feedback
from service.storage.kept_plans import KeptPlan
from service.storage.service_keys import ServiceKeys
from service.storage.shown_cards import ShownCard

NOW = datetime(2026, 3, 4, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


def card(card_id="card-1", *, patient="p" * 64, service="next-due", situation="s", at=NOW):
    return ShownCard(card_id, patient, service, situation, at)


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


def test_the_latest_card_of_a_patient_and_service_is_found(storage):
    cards = storage.shown_cards
    for shown in (card("1"), card("2", at=NOW + HOUR), card("3", patient="q" * 64, at=NOW + 2 * HOUR),
                  card("4", service="check-order", at=NOW + 2 * HOUR)):
        assert cards.add(shown)
    assert cards.latest("p" * 64, "next-due") == card("2", at=NOW + HOUR)
    assert cards.latest("r" * 64, "next-due") is None
    assert cards.find("1") == card("1")
    assert not cards.add(card("1"))


def test_a_moment_comes_back_as_the_same_moment(storage):
    there = NOW.astimezone(timezone(timedelta(hours=9)))
    storage.shown_cards.add(card(at=there))
    assert storage.shown_cards.find("card-1").shown_at == NOW


def test_feedback_is_kept_for_cards_that_were_shown(storage):
    storage.shown_cards.add(card())
    said = Feedback("card-1", "overridden", "patient-unfit", NOW)
    assert storage.card_feedback.add(said)
    assert storage.card_feedback.add(Feedback("card-1", "accepted", None, NOW + HOUR))
    assert not storage.card_feedback.add(Feedback("another", "accepted", None, NOW))
    assert storage.card_feedback.of("card-1")[0] == said
    assert storage.card_feedback.counts() == {
        ("next-due", "overridden", "patient-unfit"): 1, ("next-due", "accepted", None): 1}


def test_old_cards_go_with_their_feedback(storage):
    storage.shown_cards.add(card())
    storage.shown_cards.add(card("2", at=NOW + HOUR))
    storage.card_feedback.add(Feedback("card-1", "accepted", None, NOW))
    assert storage.shown_cards.forget_before(NOW + HOUR) == 1
    assert storage.card_feedback.of("card-1") == ()
    assert storage.shown_cards.find("2")


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
