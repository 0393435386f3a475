"""The examples in the docstrings hold, and every public formula states what it needs."""

import doctest
import importlib
import inspect
import pkgutil

import pytest

import service.formulas

MODULES = [
    importlib.import_module(f"service.formulas.{module.name}")
    for module in pkgutil.iter_modules(service.formulas.__path__)
]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_docstring_examples_hold(module):
    assert doctest.testmod(module).failed == 0


def test_some_docstrings_have_examples():
    assert sum(doctest.testmod(module).attempted for module in MODULES) >= 5


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_every_public_formula_is_described(module):
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if function.__module__ == module.__name__ and not name.startswith("_"):
            assert function.__doc__, name
