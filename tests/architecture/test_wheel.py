"""A wheel holds everything that the service reads at run time."""

import shutil
import subprocess
import sys
from zipfile import ZipFile

import pytest

from tests.architecture.test_docs_agree_with_code import ROOT

#: What runs beside the code: tables, templates, catalogues, migrations.
READ_AT_RUN_TIME = {".css", ".csv", ".html", ".ini", ".js", ".json", ".lock", ".mako", ".po", ".svg"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> ZipFile:
    folder, source = tmp_path_factory.mktemp("wheel"), tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    shutil.copytree(ROOT / "service", source / "service")  # building leaves things behind
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", str(source), "--no-deps", "--no-build-isolation", "--quiet",
         "--wheel-dir", str(folder)], check=True, timeout=300)
    (built,) = folder.glob("*.whl")
    return ZipFile(built)


def test_every_file_that_is_read_at_run_time_is_in_the_wheel(wheel):
    shipped = {name for name in wheel.namelist() if name.startswith("service/")}
    needed = {
        str(path.relative_to(ROOT)) for path in (ROOT / "service").rglob("*")
        if path.is_file() and (path.suffix in READ_AT_RUN_TIME or path.name == "VERSION")}
    assert needed
    assert needed - shipped == set()


def test_the_code_map_of_the_wheel_is_the_one_that_integrators_copy(wheel):
    assert wheel.read("service/fhir/tables/code-map.csv") == (ROOT / "shared" / "code-map.csv").read_bytes()
