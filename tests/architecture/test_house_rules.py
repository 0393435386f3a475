"""The house: what stands at the top, how files are named, who may import what, what is locked."""

import ast
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions

from tests.conftest import ROOT

SERVICE = ROOT / "service"
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "Makefile", "pyproject.toml", "requirements.lock",
    "requirements-dev.lock", "service", "openapi", "tests", "deploy", "shared",
}
HOMELESS = {"utils", "util", "common", "helpers", "helper", "manager", "base", "misc"}
MOST_LINES = 400


def python_files(folder=SERVICE):
    return sorted(folder.rglob("*.py"))


def imported_names(path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names.add(node.module.split(".")[0])
    return names


def test_the_top_level_holds_what_it_should_and_no_more():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_no_file_is_named_for_having_no_subject():
    names = {part for path in python_files() for part in path.relative_to(SERVICE).with_suffix("").parts}
    assert names & HOMELESS == set()


def test_no_file_holds_two_ideas():
    files = [*python_files(), *(p for p in python_files(ROOT / "tests") if "node_modules" not in p.parts)]
    long = {str(p): n for p in files if (n := len(p.read_text(encoding="utf-8").splitlines())) > MOST_LINES}
    assert long == {}


def test_every_module_says_what_it_is_for():
    silent = [
        str(path) for path in python_files()
        if path.stat().st_size and not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []


def test_the_domain_needs_the_standard_library_only():
    for path in python_files(SERVICE / "domain"):
        assert imported_names(path) <= sys.stdlib_module_names | {"service"}, path


def declared_dependencies() -> set[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {_normal(re.match(r"[A-Za-z0-9._-]+", text)[0]) for text in project["dependencies"]}


def _normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_what_the_service_imports_is_declared_or_comes_with_what_is():
    """Starlette and anyio come with FastAPI, which cannot do without them."""
    with_fastapi = {"starlette", "anyio"}
    distributions = packages_distributions()
    imported = set().union(*(imported_names(path) for path in python_files()))
    foreign = imported - sys.stdlib_module_names - {"service"} - with_fastapi
    assert {_normal(distributions[name][0]) for name in foreign} <= declared_dependencies()


def test_locks_pin_every_dependency_by_hash_and_name_no_host():
    for name in ("requirements.lock", "requirements-dev.lock"):
        lock = (ROOT / name).read_text(encoding="utf-8")
        pins = re.findall(r"^([a-z0-9._-]+)==\S+ \\$", lock, flags=re.MULTILINE)
        assert declared_dependencies() <= {_normal(pin) for pin in pins}
        assert len(re.findall(r"^[a-z0-9]", lock, flags=re.MULTILINE)) == len(pins)
        assert all("--hash=sha256:" in block for block in re.split(r"^(?=[a-z0-9])", lock, flags=re.MULTILINE)[1:])
        assert "://" not in lock and "--find-links" not in lock
