"""What is written about the module holds."""

import ast
import doctest
import inspect
import pathlib
import shutil

import cupwright
import numpy
import pytest

HERE = pathlib.Path(__file__).resolve()
STUB, MODELS = HERE.parents[1] / "cupwright.pyi", HERE.parents[3] / "demo-models"
FUNCTIONS = [name for name in dir(cupwright) if not name.startswith("_")]


def test_the_stub_has_every_function_with_its_parameters():
    stub = [node for node in ast.parse(STUB.read_text()).body if isinstance(node, ast.FunctionDef)]
    declared = {f.name: [a.arg for a in f.args.args + f.args.kwonlyargs] for f in stub}
    functions = {name: getattr(cupwright, name) for name in FUNCTIONS}
    found = {name: list(inspect.signature(function).parameters) for name, function in functions.items()}
    assert declared == found


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_example_of_each_function_runs(name, tmp_path, monkeypatch):
    shutil.copy(MODELS / "average-male.stl", tmp_path / "hip.stl")
    shutil.copy(MODELS.parent / "assets" / "cases" / "demonstration.ron", tmp_path / "case.ron")
    monkeypatch.chdir(tmp_path)
    examples = doctest.DocTestParser().get_examples(getattr(cupwright, name).__doc__)
    assert examples
    names = {"cupwright": cupwright, "numpy": numpy}
    for example in examples:
        exec(example.source, names)
