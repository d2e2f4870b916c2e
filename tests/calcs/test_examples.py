"""The worked examples in the docstrings and in calcs/README.md still give what they say."""

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import calcs

MODULES = [module.name for module in pkgutil.iter_modules(calcs.__path__) if module.name != "__main__"]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_hold(name):
    failed, _ = doctest.testmod(importlib.import_module(f"calcs.{name}"), optionflags=doctest.ELLIPSIS)
    assert failed == 0


def test_there_are_worked_examples_and_those_of_the_readme_hold():
    tried = sum(doctest.testmod(importlib.import_module(f"calcs.{name}")).attempted for name in MODULES)
    readme = doctest.testfile(str(Path(calcs.__path__[0]) / "README.md"), module_relative=False)
    assert readme.failed == 0
    assert tried + readme.attempted >= 9
