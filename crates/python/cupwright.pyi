"""Rehearse reaming the hip socket: bone removed, rim contact, cup coverage.

Lengths are in mm, angles in degrees, shares from 0 to 1; units are in the names. What cannot be done is a
``ValueError``, or an ``OSError`` where a file is at fault, that says what is wrong.
"""

from os import PathLike
from typing import Any, Literal, Sequence, Union

from numpy import float64, uint32
from numpy.typing import ArrayLike, NDArray

Unit = Literal["mm", "cm", "in", "m"]
Point = Union[Sequence[float], NDArray[Any]]
Reamer = Union[float, tuple[float, Point, Point]]
Vertices = NDArray[float64]
Faces = NDArray[uint32]

def measure(
    vertices: ArrayLike,
    faces: ArrayLike,
    centre: Point,
    axis: Point,
    *,
    reamers: Sequence[Reamer] = ...,
    cup: float | None = ...,
    cup_centre: Point | None = ...,
    cup_axis: Point | None = ...,
    column: float | None = ...,
    unit: Unit | None = ...,
) -> dict[str, Any]: ...
def inspect(vertices: ArrayLike, faces: ArrayLike, *, unit: Unit | None = ...) -> dict[str, Any]: ...
def landmarks(
    vertices: ArrayLike,
    faces: ArrayLike,
    *,
    unit: Unit | None = ...,
    side: Literal["right", "left"] | None = ...,
    error_mm: float = ...,
) -> dict[str, Any]: ...
def read_mesh(path: str | PathLike[str]) -> tuple[Vertices, Faces]: ...
def pelvis(
    preset: str,
    side: Literal["right", "left"] = ...,
    overrides: dict[str, float] | None = ...,
    *,
    resolution: Literal["coarse", "middle", "fine"] = ...,
) -> tuple[Vertices, Faces, dict[str, Any]]: ...
def run(case: str | PathLike[str]) -> dict[str, Any]: ...
def evaluate(
    case: str | PathLike[str],
    settings: dict[str, ArrayLike],
    measures: Sequence[str] = ...,
) -> dict[str, NDArray[float64]]: ...
