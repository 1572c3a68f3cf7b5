"""Arrays of every make, and what cannot be."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import cupwright
import numpy
import pytest

CUBE = numpy.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], dtype=float) * 50
FACES = numpy.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip
UP, TOP = (0, 0, 1), (0, 0, 50)


def measured(vertices=CUBE, faces=FACES, centre=TOP, axis=UP, **tools):
    return cupwright.measure(vertices, faces, centre, axis, **(tools or {"reamers": [40], "cup": 42}))


def test_a_half_ball_in_a_block():
    found = measured()
    assert found["bone"]["volume_mm3"] == pytest.approx(1e6)
    assert found["bone"]["area_mm2"] == pytest.approx(6e4)
    assert found["reaming"][0]["removed_mm3"] == pytest.approx(2 / 3 * numpy.pi * 20**3)
    assert found["cup"]["coverage"] == pytest.approx(1)
    assert found["cup"]["coverage_after_reaming"] == pytest.approx(1)


@pytest.mark.parametrize("dtype", ["float64", "float32", "float16", "int32", "int8", ">f8"])
def test_vertices_of_any_number(dtype):
    assert measured(vertices=CUBE.astype(dtype)) == measured()


@pytest.mark.parametrize("dtype", ["int64", "int32", "uint32", "uint64", "uint8", "int16", ">i4"])
def test_faces_of_any_whole_number(dtype):
    assert measured(faces=FACES.astype(dtype)) == measured()


def test_any_layout():
    wide = numpy.zeros((8, 7))
    wide[:, 1::2] = CUBE
    layouts = [numpy.asfortranarray(CUBE), wide[:, 1::2], CUBE[::-1][::-1], CUBE.tolist()]
    for vertices in layouts:
        assert measured(vertices=vertices) == measured()
    read_only = CUBE.copy()
    read_only.setflags(write=False)
    assert measured(vertices=read_only, faces=FACES.tolist()) == measured()


def test_places_and_sizes_as_numpy_has_them():
    found = measured(centre=numpy.array(TOP), axis=numpy.array(UP, dtype="float32"), reamers=numpy.array([40]), cup=numpy.int64(42))
    assert found == measured()


def refused(told, kind=ValueError, **given):
    with pytest.raises(kind, match=told):
        measured(**given)


def test_wrong_shapes_and_kinds():
    refused(r"vertices must have the shape \(n, 3\), not \(8, 2\)", vertices=CUBE[:, :2])
    refused(r"vertices must have the shape \(n, 3\), not \(24,\)", vertices=CUBE.ravel())
    refused(r"faces must have the shape \(n, 3\)", faces=numpy.hstack([FACES, FACES[:, :1]]))
    refused("faces must be whole numbers, not float64", faces=FACES.astype(float))
    refused("vertices must be real numbers, not complex128", vertices=CUBE.astype(complex))
    refused("vertices must be real numbers, not object", vertices=CUBE.astype(object))
    refused("vertices must be real numbers, not <U", vertices=CUBE.astype(str))
    refused("real numbers, not bool", vertices=CUBE > 0)


def test_broken_meshes():
    spoilt = CUBE.copy()
    spoilt[3, 1] = numpy.nan
    refused("vertex 3", vertices=spoilt)
    spoilt[3, 1] = numpy.inf
    refused("vertex 3", vertices=spoilt)
    for index in (8, 2**31, -1, 2**40):
        told = f"triangle 2 names vertex {index}, but the mesh has only 8 vertices"
        refused(told, faces=numpy.where(FACES == 7, index, FACES))
    refused("open", faces=FACES[1:])
    refused("inside out|inside-out", faces=FACES[:, ::-1])
    refused("no triangles", faces=FACES[:0])


def test_tools_that_cannot_be():
    refused("nothing to measure", reamers=[])
    refused("a diameter must be more than 0 and at most 200 mm, not 0", cup=0)
    refused("at most 200 mm, not 1000", reamers=[1000])
    refused("not NaN", reamers=[float("nan")])
    refused("has no direction", axis=(0, 0, 0))
    refused("between -1000000 and 1000000 mm", centre=(0, 2e6, 0))
    refused("a length must be more than 0", column=0, reamers=[40])
    refused("share no point|shares no point|apart", reamers=[10, (10, (40, 40, 50), UP)])
    with pytest.raises((TypeError, ValueError)):
        measured(centre=(0, 0))
    with pytest.raises(TypeError):
        measured(reamers=["forty"])


def test_units():
    refused("metres", vertices=CUBE / 1000)
    for unit, mm in [("mm", 1), ("cm", 10), ("in", 25.4), ("m", 1000)]:
        found = measured(vertices=CUBE / mm, unit=unit, reamers=[40])
        assert found["bone"]["volume_mm3"] == pytest.approx(1e6)
    small = measured(vertices=CUBE / 1000, centre=(0, 0, 0.05), unit="mm", cup=0.04)
    assert small["cup"]["coverage"] == pytest.approx(1)
    refused("unit must be one of mm, cm, in, m, not furlong", unit="furlong", cup=40)


def test_what_can_hardly_be_meant_is_a_warning():
    with pytest.warns(UserWarning, match=r"reamer 1 \(40 mm\) touches no bone"):
        measured(centre=(500, 0, 0), reamers=[40])
    with pytest.warns(UserWarning, match="smaller than the last reamer"):
        measured(reamers=[40], cup=38)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(FileNotFoundError, match="there is no such file"):
        cupwright.read_mesh(tmp_path / "missing.stl")
    with pytest.raises(IsADirectoryError):
        cupwright.read_mesh(tmp_path)
    (tmp_path / "bad.stl").write_bytes(b"solid x\nfacet normal 0 0")
    with pytest.raises(ValueError, match="bad.stl"):
        cupwright.read_mesh(str(tmp_path / "bad.stl"))
    with pytest.raises(FileNotFoundError, match="there is no such file"):
        cupwright.run(tmp_path / "missing.ron")
    with pytest.raises(ValueError, match="1:|line"):
        cupwright.run("(version: 1,\n colour: 3)")
    case = (
        '(version: 1, bone: File(path: "missing.stl", side: Right, axes: Pelvic), orientation: Radiographic,\n'
        "reamers: [(diameter_mm: 51)], cup: (diameter_mm: 52, inclination_deg: 40, anteversion_deg: 15))"
    )
    with pytest.raises(FileNotFoundError, match="missing.stl"):
        cupwright.run(case)


def test_names_that_are_none():
    with pytest.raises(ValueError, match="average-male"):
        cupwright.pelvis("huge")
    with pytest.raises(ValueError, match="side must be one of right, left, not middle"):
        cupwright.pelvis("small", "middle")
    with pytest.raises(ValueError, match="socket_diameter_mm"):
        cupwright.pelvis("small", overrides={"socket_diameter_mm": -1})
    case = "(\n)"
    with pytest.raises(ValueError, match="width_mm is nothing that is set"):
        cupwright.evaluate(case, {"width_mm": [1]})
    with pytest.raises(ValueError, match="beauty is nothing that is measured"):
        cupwright.evaluate(case, {}, ["beauty"])


def test_threads_find_the_same(hip, socket):
    centre, axis, diameter = socket

    def ream(_):
        return cupwright.measure(*hip[:2], centre, axis, reamers=[diameter], cup=diameter + 1)

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(ream, range(4)))
    assert found == [ream(None)] * 4


def test_python_goes_on_while_rust_computes():
    """Held up, the other thread would not beat once between the beginning and the end."""
    beats, done = [], threading.Event()

    def beat():
        while not done.wait(0.001):
            beats.append(time.perf_counter())

    beating = threading.Thread(target=beat)
    beating.start()
    began = time.perf_counter()
    cupwright.pelvis("small", resolution="coarse")
    ended = time.perf_counter()
    done.set()
    beating.join()
    assert sum(began < at < ended for at in beats) > 10
