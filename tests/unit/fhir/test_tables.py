"""The tables agree with the domain, with each other, and with the code that cites them."""

import re
from enum import StrEnum
from pathlib import Path

import pytest

from service.domain.body_region import Region, Side, Surface
from service.domain.burn_wound import BedState, Depth
from service.domain.case import Act
from service.domain.donor_site import DonorState
from service.domain.graft import GraftKind, GraftMethod
from service.domain.patient import TreatmentIntent
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.codes import load_code_map
from service.fhir.faults import fault_catalogue
from service.fhir.quantities import units
from service.fhir.read_out_of_scope import CULTURED_CELLS
from service.fhir.tables import absence_rules, component_rules, input_profiles

SERVICE = Path(__file__).parents[3] / "service"
CODE_MAP = load_code_map(DEFAULT_CANONICAL_BASE)
FOLDERS = (".", "assessment", "fhir", "api")
SOURCE = "".join(path.read_text() for name in FOLDERS for path in (SERVICE / name).glob("*.py"))


@pytest.mark.parametrize(("kind", "members"), [
    ("region", Region), ("side", Side), ("surface", Surface), ("burn-depth", Depth), ("bed-state", BedState),
    ("donor-state", DonorState), ("graft-method", GraftKind), ("graft-method-with-ratio", GraftMethod),
    ("treatment-intent", TreatmentIntent), ("act", Act),
])
def test_a_value_set_holds_what_the_domain_holds(kind: str, members: type[StrEnum]):
    refused_by_name = {CULTURED_CELLS} if kind.startswith("graft-method") else set()
    assert {row.name for row in CODE_MAP.rows_of_kind(kind)} == {str(member) for member in members} | refused_by_name


def test_every_profile_and_component_has_a_coding():
    assert all(CODE_MAP.coding(f"profile/{code}")["code"] for code in input_profiles())
    assert all(CODE_MAP.coding(f"component/{code}")["code"] for code in component_rules())


def test_profiles_name_known_components_units_and_value_sets():
    kinds = {row.kind for row in CODE_MAP.rows}
    for rule in (*input_profiles().values(), *component_rules().values()):
        assert not rule.value_set or rule.value_set in kinds
        assert not rule.quantity_kind or rule.unit in units()[rule.quantity_kind]
        assert not rule.quantity_kind or rule.low < rule.high
    for profile in input_profiles().values():
        assert set(profile.components) <= set(component_rules())
        assert set(profile.part_of) <= set(input_profiles())


def test_the_code_of_the_house_unit_has_factor_one():
    for rule in input_profiles().values():
        if rule.quantity_kind:
            unit = units()[rule.quantity_kind][rule.unit]
            assert (unit.factor, unit.offset, unit.alias_of) == (1, 0, "")


def test_every_error_id_is_used_and_every_used_one_is_in_the_catalogue():
    cited = set(re.findall(r'"([a-z0-9]+(?:-[a-z0-9]+)*)"', SOURCE))
    assert set(fault_catalogue()) <= cited
    called = set(re.findall(r'\.(?:fault|note|put_aside)\("([^"]+)"|(?:refuse|TransportFault)\("([^"]+)"', SOURCE))
    assert {one or other for one, other in called} <= set(fault_catalogue())


def test_every_missing_datum_has_its_row():
    assert set(re.findall(r'\.miss\("([^"]+)"', SOURCE)) <= set(absence_rules())


def test_a_catalogue_row_has_an_issue_code_of_fhir():
    issue_codes = {
        "structure", "required", "value", "invariant", "not-supported", "duplicate", "multiple-matches",
        "not-found", "too-long", "code-invalid", "extension", "too-costly", "business-rule", "conflict",
        "incomplete", "informational", "security", "exception", "throttled", "timeout", "login", "forbidden",
    }
    assert {kind.issue_code for kind in fault_catalogue().values()} <= issue_codes
    assert {kind.http_status for kind in fault_catalogue().values()} == {
        200, 400, 401, 403, 404, 405, 406, 408, 409, 412, 413, 415, 422, 429, 431, 500, 503}
