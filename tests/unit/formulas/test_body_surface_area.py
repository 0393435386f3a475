import math

import pytest

from service.evidence.library import load_evidence
from service.formulas.body_surface_area import FORMULAS, body_surface_m2, by_formula

EVIDENCE = load_evidence()


def test_children_by_haycock_adults_by_mosteller():
    assert body_surface_m2(EVIDENCE, 110, 18, is_adult=False) == by_formula(EVIDENCE, "haycock", 110, 18)
    assert body_surface_m2(EVIDENCE, 110, 18, is_adult=True) == by_formula(EVIDENCE, "mosteller", 110, 18)


def test_du_bois_in_its_logarithmic_form():
    """The same curve as textbooks print it, with the height in metres."""
    log_surface = math.log10(0.20247) + 0.425 * math.log10(70) + 0.725 * math.log10(1.75)
    assert by_formula(EVIDENCE, "du-bois", 175, 70) == pytest.approx(10**log_surface, rel=1e-4)


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_heavier_body_has_more_surface(formula):
    surfaces = [by_formula(EVIDENCE, formula, 150, weight) for weight in (11, 40, 80, 160)]
    assert surfaces == sorted(surfaces)


def test_an_unknown_formula_is_an_error():
    with pytest.raises(KeyError):
        by_formula(EVIDENCE, "guess", 170, 70)


def test_the_refusal_repeats_no_value():
    with pytest.raises(ValueError) as refused:
        by_formula(EVIDENCE, "mosteller", 1.83, 70)
    assert "1.83" not in str(refused.value)
