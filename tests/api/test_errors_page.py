"""The page of errors is complete and shows the answers of today: ``make openapi`` writes it anew."""

from service.fhir.faults import fault_catalogue
from service.fhir.tables import absence_rules
from tests.api.errors_page import ERRORS_PAGE, write_errors_page

PAGE = ERRORS_PAGE.read_text(encoding="utf-8")


def test_it_is_current():
    assert write_errors_page() == PAGE


def test_every_error_id_is_there_with_its_meaning_and_its_repair():
    for kind in fault_catalogue().values():
        assert f"| `{kind.error_id}` | `{kind.issue_code}` | {kind.text} | {kind.repair} |" in PAGE


def test_every_datum_that_can_be_missing_is_there():
    for rule in absence_rules().values():
        assert f"| `{rule.datum}` | {rule.kind} |" in PAGE
