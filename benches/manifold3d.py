#!/usr/bin/env python3
"""How long the general mesh boolean manifold3d takes to subtract one reamer, and how exact it is.

    cargo bench -p cupwright-benches --bench kernel -- one_step   # writes the bone and what is taken of it
    python3 benches/manifold3d.py target/tmp

Makes a virtual environment beside the mesh, installs numpy and manifold3d into it, and runs itself there.
The reamer is the one of `benches/src/lib.rs`: 25 mm across, a half ball with a column 60 mm long, of 128
facets around. Its rings are polygons of the area of their circles, as those of the other boolean's tool;
then the whole tool is scaled about its centre to the volume of the true bullet. Preparing the bone is left
out of the time, taking the volume of the result is in it.
"""

import math
import pathlib
import subprocess
import sys
import time
import venv

SEGMENTS = 128
RADIUS, COLUMN = 12.5, 60.0
CENTRE, AXIS = (14.0, -6.0, 12.0), (0.6, -0.2, 0.9)


def in_environment(folder):
    """Runs this file again with numpy and manifold3d at hand."""
    python = folder / "bin" / "python"
    if not python.exists():
        venv.create(folder, with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", "numpy", "manifold3d"], check=True)
    sys.exit(subprocess.run([python, __file__, *sys.argv[1:], "--here"]).returncode)


def welded(path):
    """Vertices and triangles of a binary STL, equal places joined."""
    import numpy as np

    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    soup = np.fromfile(path, dtype=record, offset=84)["corners"].reshape(-1, 3)
    places, index = np.unique(soup, axis=0, return_inverse=True)
    return places.astype(np.float64), index.reshape(-1, 3).astype(np.uint64)


def solid(manifold3d, places, faces):
    made = manifold3d.Manifold(manifold3d.Mesh64(vert_properties=places, tri_verts=faces))
    if made.is_empty() or made.volume() <= 0.0:
        sys.exit(f"not a solid: {made.status()}")
    return made


def tool(manifold3d):
    """The bullet as a solid of the true volume."""
    import numpy as np

    step = 2.0 * math.pi / SEGMENTS
    grown = math.sqrt(step / math.sin(step)) * RADIUS
    rings = SEGMENTS // 4
    polars = [math.pi / 2.0 * k / rings for k in range(1, rings + 1)]
    rows = [(grown * math.sin(p), -RADIUS * math.cos(p)) for p in polars] + [(grown, COLUMN)]
    turns = [(k + 0.317) * step for k in range(SEGMENTS)]
    points = [(0.0, 0.0, -RADIUS)]
    points += [(rho * math.cos(t), rho * math.sin(t), z) for rho, z in rows for t in turns]
    points.append((0.0, 0.0, COLUMN))
    top, last = len(points) - 1, 1 + (len(rows) - 1) * SEGMENTS
    faces = []
    for k in range(SEGMENTS):
        after = (k + 1) % SEGMENTS
        faces += [(0, 1 + after, 1 + k), (top, last + k, last + after)]
        for row in range(len(rows) - 1):
            a, b = 1 + row * SEGMENTS + k, 1 + row * SEGMENTS + after
            faces += [(a, b, b + SEGMENTS), (a, b + SEGMENTS, a + SEGMENTS)]
    z = np.array(AXIS) / np.linalg.norm(AXIS)
    x = np.cross(z, (0.0, 1.0, 0.0))
    x /= np.linalg.norm(x)
    frame = np.stack([x, np.cross(z, x), z])
    local, faces = np.array(points), np.array(faces, dtype=np.uint64)
    corners = local[faces]
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6.0
    true = math.pi * RADIUS**2 * (2.0 / 3.0 * RADIUS + COLUMN)
    scale = (true / volume) ** (1.0 / 3.0)
    placed = (local * scale) @ frame + np.array(CENTRE)
    return solid(manifold3d, placed, faces)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    folder = pathlib.Path(sys.argv[1])
    path, exact = folder / "one_step.stl", float((folder / "one_step.txt").read_text())
    if sys.argv[-1] != "--here":
        in_environment(folder / "manifold3d-venv")
    # The library, and not this file, which has its name.
    here = pathlib.Path(__file__).resolve().parent
    sys.path = [p for p in sys.path if pathlib.Path(p).resolve() != here]
    import manifold3d

    places, faces = welded(path)
    bone, reamer = solid(manifold3d, places, faces), tool(manifold3d)
    times = []
    for _ in range(15):
        start = time.perf_counter()
        left = (bone - reamer).volume()
        times.append(time.perf_counter() - start)
    taken = bone.volume() - left
    times.sort()
    print(f"{len(faces)} triangles, {SEGMENTS} facets around")
    print(f"subtraction: median {1e3 * times[7]:.1f} ms, least {1e3 * times[0]:.1f} ms")
    print(f"taken: {taken:.3f} mm3, off by {taken - exact:+.3f} mm3 ({abs(taken / exact - 1.0):.1e} of it)")


if __name__ == "__main__":
    main()
