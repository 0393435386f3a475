from decimal import Decimal

from service.domain.learning import Belief, Learned, LearnedAbout
from service.wording.learning_text import word_data, word_learned, write_learning


def belief(*parts):
    return Belief(*map(Decimal, parts))


def learned(about, prior, posterior, observed="0.68", readings=3, sessions=2):
    return Learned(about, belief(*prior), Decimal(observed), readings, sessions, belief(*posterior), ("entry[1]",))


ISLANDS = learned(LearnedAbout.ISLAND_TAKE, ("0.82", "0.64", "0.96"), ("0.744", "0.655", "0.812"))
SLOW = learned(LearnedAbout.DONOR_HEALING, ("1", "0.84", "1.19"), ("1.12", "0.98", "1.3"), "1.4", 1, 1)
FAST = learned(LearnedAbout.DONOR_HEALING, ("1", "0.84", "1.19"), ("0.9", "0.8", "1.02"), "0.7", 1, 1)


def test_posterior_prior_and_data_are_said():
    assert word_learned(ISLANDS) == "Take of islands in this patient: 74 % (66-81) (prior 82 % (64-96))."
    assert word_data(ISLANDS) == "From 3 readings in 2 sessions: 68 %."


def test_a_slow_healer_is_told_to_wait_and_a_fast_one_is_not_told_to_hurry():
    assert "heal later" in word_learned(SLOW)
    assert "only when it is recorded" in word_learned(FAST) and "later" not in word_learned(FAST)
    assert word_data(SLOW) == "From 1 reading in 1 session: 1.40 times."


def test_nothing_read_leaves_no_section():
    assert write_learning(()) == []
    assert max(map(len, write_learning((ISLANDS, SLOW)))) <= 80
