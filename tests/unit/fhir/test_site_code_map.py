"""A site's own code map: read and written by, or refused with every row that is missing or clashes."""

import json
from dataclasses import astuple, fields, replace

import pytest

from service.domain.errors import ServiceFault
from service.fhir.code_rows import CODE_MAP, CodeRow, find_faults, main, read_rows
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.conftest import SAMPLES
from tests.unit.fhir_out.bundles import resources

OWN = read_rows(CODE_MAP)
HOSPITAL = "https://codes.hospital.example"
SITE_ROW = CodeRow("task/harvest-skin", HOSPITAL, "H-17", "Take skin", "Harvest split-thickness skin", "site list")


def save(tmp_path, rows) -> str:
    lines = [",".join(f.name for f in fields(CodeRow)), *(
        ",".join(f'"{cell}"' for cell in astuple(row)) for row in rows)]
    path = tmp_path / "codes.csv"
    path.write_text("\n".join(lines) + "\n")
    return str(path)


def test_the_map_that_is_shipped_has_no_fault():
    assert find_faults(OWN, OWN) == []


def test_a_row_of_the_site_may_come_first():
    assert find_faults((SITE_ROW, *OWN), OWN) == []


@pytest.mark.parametrize(("rows", "said"), [
    (OWN[1:], OWN[0].concept),
    ((*OWN[1:], replace(OWN[0], system=HOSPITAL)), "lacks its local code"),
    ((*OWN, replace(SITE_ROW, display="")), "lacks system, code or display"),
    ((*OWN, replace(SITE_ROW, concept="task/take-skin")), "task/take-skin is no concept of this service"),
    ((*OWN, SITE_ROW, replace(SITE_ROW, concept="task/place-graft")),
     f"{HOSPITAL}|H-17 stands for task/harvest-skin and task/place-graft"),
    ((*OWN, SITE_ROW, SITE_ROW), f"{HOSPITAL}|H-17 stands for task/harvest-skin and task/harvest-skin"),
])
def test_what_is_missing_or_clashes_is_named(rows, said):
    (fault,) = find_faults(rows, OWN)
    assert said in fault


def test_a_concept_with_a_row_of_the_site_is_written_by_it_and_read_by_both(tmp_path):
    base = "https://own-codes.example/fhir"
    parts = build_parts(Settings(canonical_base=base, code_map=save(tmp_path, (SITE_ROW, *OWN))))
    sample = json.loads((SAMPLES / "hands-and-face-12-percent.json").read_text().replace(
        "https://graftstage.example/fhir", base))
    answer = answer_plan_request(parts, json.dumps(sample).encode()).resource
    codes = [task["code"]["coding"][0] for task in resources(answer, "Task")]
    assert {"system": HOSPITAL, "code": "H-17", "display": "Take skin"} in codes
    assert "harvest-skin" not in {coding["code"] for coding in codes}
    assert "place-graft" in {coding["code"] for coding in codes}


def test_a_map_with_a_fault_stops_the_start_and_names_it(tmp_path):
    with pytest.raises(ServiceFault, match=r"code map: .* is missing"):
        build_parts(Settings(canonical_base="https://faulty.example/fhir", code_map=save(tmp_path, OWN[1:])))


def test_the_check_says_what_it_found(tmp_path, capsys):
    assert main(str(CODE_MAP)) == 0
    assert main(save(tmp_path, OWN[1:])) == 1
    assert capsys.readouterr().out.splitlines() == [
        f"{len(OWN)} rows, nothing missing, no clash", f"{OWN[0].concept} is missing"]


@pytest.mark.parametrize("text", ["concept,code\na,b\n", "", "concept,system,code,display,meaning,verified\na,b\n"])
def test_a_file_that_is_no_code_map_is_refused(tmp_path, text, capsys):
    path = tmp_path / "codes.csv"
    path.write_text(text)
    assert main(str(path)) == 1
    assert "columns" in capsys.readouterr().out


def test_a_file_that_is_not_there_is_refused(tmp_path, capsys):
    assert main(str(tmp_path / "none.csv")) == 1
    assert "cannot be read" in capsys.readouterr().out
