"""Every example in a docstring is run."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import witnessmark

MODULES = sorted(module.name for module in pkgutil.walk_packages(witnessmark.__path__, "witnessmark."))


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_hold(name: str) -> None:
    """What a docstring shows as input and output is what Python answers."""
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_the_examples_are_found() -> None:
    """The runner sees examples at all: length_mm has some."""
    assert doctest.testmod(importlib.import_module("witnessmark.job.units")).attempted > 0
