"""The module answers what the command prints."""

import json
import pathlib

import cupwright
import numpy
import pytest

MODELS = pathlib.Path(__file__).resolve().parents[3] / "demo-models"
CENTRE, AXIS = (86.2, -34.5, -76.1), (0.82, 0.25, -0.51)


def text(numbers):
    return ",".join(map(str, numbers))


@pytest.fixture(scope="module")
def model():
    return cupwright.read_mesh(MODELS / "average-male.stl")


def test_measure(model, command):
    place = ["--centre", text(CENTRE), "--axis", text(AXIS)]
    tools = ["--reamer", "49,50.5", "--reamer", f"51@{text(CENTRE)}/0.8,0.3,-0.5", "--cup", "52", "--column", "60"]
    printed = command("measure", "--bone", MODELS / "average-male.stl", *place, *tools, "--json")
    reamers = [49, 50.5, (51, CENTRE, (0.8, 0.3, -0.5))]
    found = cupwright.measure(*model, CENTRE, AXIS, reamers=reamers, cup=52, column=60)
    assert found == json.loads(printed)
    assert list(found) == ["schema", "bone", "reaming", "cup"]
    assert isinstance(found["reaming"][0]["diameter_mm"], int)


def test_a_cup_may_stand_elsewhere(model, command):
    place = ["--centre", text(CENTRE), "--axis", text(AXIS), "--cup", "52"]
    cup = ["--cup-centre", "85,-33,-75", "--cup-axis", "0.7,0.3,-0.6"]
    printed = command("measure", "--bone", MODELS / "average-male.stl", *place, *cup, "--json")
    found = cupwright.measure(*model, CENTRE, AXIS, cup=52, cup_centre=(85, -33, -75), cup_axis=(0.7, 0.3, -0.6))
    assert found == json.loads(printed)
    assert found["reaming"] == []


def test_inspect(model, command):
    printed = json.loads(command("inspect", MODELS / "average-male.stl", "--json"))
    found = cupwright.inspect(*model)
    # What reading a file does is told by the command alone.
    assert set(found.pop("notes")) <= set(printed.pop("notes"))
    assert found == printed
    assert found["socket"]["side"] == "right"


def test_landmarks(model, command):
    printed = json.loads(command("landmarks", MODELS / "average-male.stl", "--json"))
    found = cupwright.landmarks(*model)
    assert found == printed
    assert found["side"] == "right" and len(found["landmarks"]) == 6
    corners = 100.0 * numpy.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    with pytest.raises(ValueError, match="no socket"):
        cupwright.landmarks(corners, [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])


def test_inspect_tells_what_is_broken(model):
    vertices, faces = model
    found = cupwright.inspect(vertices / 1000, faces[100:])
    kinds = {defect["kind"] for defect in found["defects"]}
    assert {"open", "unit"} <= kinds
    assert not found["closed"] and found["volume_mm3"] is None and found["likely_unit"] == "metres"
    assert "unit" not in {d["kind"] for d in cupwright.inspect(vertices / 1000, faces, unit="m")["defects"]}


def test_run_by_path_and_by_text(command, monkeypatch):
    path = MODELS / "average-male-hands.case.ron"
    printed = json.loads(command("run", path, "--json"))
    assert cupwright.run(path) == printed
    assert cupwright.run(str(path)) == printed
    # Paths in a text are relative to the folder that one works in.
    monkeypatch.chdir(MODELS)
    case = path.read_text()
    case = case.replace("(\n", "(\n    // told as text\n", 1)
    assert cupwright.run(case)["findings"]["cup"] == printed["findings"]["cup"]


def test_evaluate_is_the_map(command):
    path = MODELS / "average-male-hands.case.ron"
    axes = ["--x", "inclination=35..45:3", "--y", "anteversion=10..20:2", "--of", "coverage", "--of", "thinnest-wall"]
    printed = json.loads(command("map", path, *axes, "--json"))["result"]
    inclination, anteversion = numpy.meshgrid([35, 40, 45], [10, 20])
    settings = {"inclination_deg": inclination, "anteversion_deg": anteversion}
    found = cupwright.evaluate(path, settings, ["coverage_share", "thinnest_wall_mm"])
    for layer in printed["layers"]:
        assert numpy.array_equal(found[layer["measure"]], numpy.array(layer["rows"], dtype=float))


def test_a_preset_is_the_file_that_the_command_writes(command, tmp_path):
    file = tmp_path / "hip, left.ply"
    command("pelvis", "deep", "--side", "left", "--set", "socket_diameter_mm=50", "--resolution", "coarse", "--out", file)
    vertices, faces, marks = cupwright.pelvis("deep", "left", {"socket_diameter_mm": 50}, resolution="coarse")
    read = cupwright.read_mesh(file)
    assert numpy.array_equal(read[1], faces)
    assert numpy.array_equal(read[0], vertices)
    assert marks["socket_diameter_mm"] == pytest.approx(50)
    x, y, z = (f"{c:.4f}" for c in marks["points"]["hip_centre"])
    assert f'"hip_centre": ({x}, {y}, {z}),' in file.with_suffix(".landmarks.ron").read_text()
    assert len(marks["rim"].shape) == 2 and marks["rim"].shape[1] == 3
