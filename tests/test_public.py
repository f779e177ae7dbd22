"""What the library gives to whoever imports it: every public name tells what it is and shows an example that runs."""

import inspect
import re

import pytest

import susgeo
from susgeo import draw

DRAWINGS = {f"draw.{name}": getattr(draw, name) for name in ("axle", "strip", "steps")}
CLASSES = [name for name in susgeo.__all__ if inspect.isclass(getattr(susgeo, name))]
FUNCTIONS = {
    name: getattr(susgeo, name) for name in susgeo.__all__ if inspect.isfunction(getattr(susgeo, name))
} | DRAWINGS


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_public_function_tells_its_arguments_and_shows_an_example(name):
    function = FUNCTIONS[name]
    told = inspect.getdoc(function)
    arguments = told.partition("Args:")[2]
    missing = [each for each in inspect.signature(function).parameters if not re.search(rf"\b{each}\b", arguments)]
    assert not missing, f"{name} does not tell {missing}"
    assert ">>> " in told, f"{name} shows no example"


@pytest.mark.parametrize("name", CLASSES)
def test_a_public_class_shows_an_example(name):
    assert ">>> " in inspect.getdoc(getattr(susgeo, name)), f"{name} shows no example"
