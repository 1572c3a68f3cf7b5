"""What the tests share: the preset that they measure, and the command as built."""

import os
import pathlib
import subprocess

import cupwright
import pytest

ROOT = pathlib.Path(__file__).resolve().parents[3]


@pytest.fixture(scope="session")
def hip():
    """Vertices, faces and landmarks of a coarse average man's right hemipelvis."""
    return cupwright.pelvis("average-male", resolution="coarse")


@pytest.fixture(scope="session")
def socket(hip):
    """Where its tools stand: centre, axis out of the socket, diameter."""
    marks = hip[2]
    return marks["points"]["hip_centre"], marks["socket_axis"], marks["socket_diameter_mm"]


@pytest.fixture(scope="session")
def command():
    """Runs the command and returns what it prints."""
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    program = target / "debug" / "cupwright"
    if not program.exists():
        subprocess.run(["cargo", "build", "--quiet", "--locked"], cwd=ROOT, check=True)

    def run(*arguments):
        line = [program, *map(str, arguments)]
        return subprocess.run(line, check=True, capture_output=True, text=True).stdout

    return run
