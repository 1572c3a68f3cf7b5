"""Against libraries of others: trimesh for volume and area, manifold3d for what reamers remove."""

import cupwright
import manifold3d
import numpy
import pytest
import trimesh


def solid(vertices, faces):
    """The mesh as manifold3d has it."""
    mesh = manifold3d.Mesh64(
        vert_properties=numpy.asarray(vertices, dtype=numpy.float64),
        tri_verts=numpy.asarray(faces, dtype=numpy.uint64),
    )
    return manifold3d.Manifold(mesh)


def bullet(diameter, centre, axis, column, steps):
    """A half ball and the column above it, inscribed: ``steps`` meridians, a quarter as many rings."""
    radius = diameter / 2
    polar = numpy.linspace(-numpy.pi / 2, 0, steps // 4 + 1)
    profile = [[radius * numpy.cos(a), radius * numpy.sin(a)] for a in polar]
    profile[0][0] = 0.0
    outline = [*profile, [radius, column], [0.0, column]]
    turned = manifold3d.CrossSection([outline]).revolve(steps)
    z = numpy.asarray(axis) / numpy.linalg.norm(axis)
    x = numpy.cross(z, [1.0, 0, 0] if abs(z[0]) < 0.9 else [0, 1.0, 0])
    x /= numpy.linalg.norm(x)
    frame = numpy.column_stack([x, numpy.cross(z, x), z, centre])
    return turned.transform(frame)


@pytest.mark.parametrize("preset", ["average-male", "shallow-3", "small"])
def test_volume_and_area_of_presets_are_those_of_trimesh(preset):
    vertices, faces, marks = cupwright.pelvis(preset, "left", resolution="coarse")
    theirs = trimesh.Trimesh(vertices, faces, process=False)
    place = marks["points"]["hip_centre"]
    bone = cupwright.measure(vertices, faces, place, marks["socket_axis"], cup=40)["bone"]
    assert theirs.is_watertight
    assert bone["triangles"] == len(faces)
    assert bone["volume_mm3"] == pytest.approx(theirs.volume, rel=1e-9)
    assert bone["area_mm2"] == pytest.approx(theirs.area, rel=1e-9)


@pytest.mark.parametrize("shift", [(0, 0, 0), (-3, 1, 2)])
def test_bone_removed_is_what_a_mesh_boolean_takes(hip, socket, shift):
    vertices, faces, _ = hip
    centre, axis, diameter = socket
    centre, diameter, column = numpy.add(centre, shift), round(diameter) + 1, 40.0
    found = cupwright.measure(vertices, faces, centre, axis, reamers=[diameter], column=column)
    removed = found["reaming"][0]["removed_mm3"]
    bone = solid(vertices, faces)

    def taken(steps):
        return bone.volume() - (bone - bullet(diameter, centre, axis, column, steps)).volume()

    # An inscribed bullet takes less. Its surface lies within r (1 - cos(pi / steps)) of the round one's along
    # the meridians, and as much again along the rings; twice that times the bullet's surface is more than
    # what can be missing.
    steps, radius = 256, diameter / 2
    sag = 2 * radius * (1 - numpy.cos(numpy.pi / steps))
    surface = 2 * numpy.pi * radius * (radius + column)
    assert 0 <= removed - taken(steps) <= sag * surface
    # Four times as near with steps twice as fine, so that what they come to is this.
    fine, coarse = taken(2 * steps), taken(steps)
    assert removed == pytest.approx(fine + (fine - coarse) / 3, rel=2e-5)


def test_two_reamers_remove_their_union(hip, socket):
    vertices, faces, _ = hip
    centre, axis, diameter = socket
    beside = numpy.add(centre, (2.0, -1.0, 3.0))
    reamers = [diameter - 4, (diameter + 1, beside, axis)]
    found = cupwright.measure(vertices, faces, centre, axis, reamers=reamers, column=40)["reaming"]
    bone = solid(vertices, faces)
    tools = bullet(diameter - 4, centre, axis, 40, 512) + bullet(diameter + 1, beside, axis, 40, 512)
    taken = bone.volume() - (bone - tools).volume()
    assert found[1]["cumulative_removed_mm3"] == pytest.approx(taken, rel=1e-3)
    steps = [step["removed_mm3"] for step in found]
    assert sum(steps) == pytest.approx(found[1]["cumulative_removed_mm3"], rel=1e-12)


def test_coverage_is_the_share_of_sampled_directions_in_bone(hip, socket):
    vertices, faces, _ = hip
    centre, axis, diameter = socket
    found = cupwright.measure(vertices, faces, centre, axis, cup=diameter + 2)["cup"]
    # Even directions on the half ball away from the axis (a Fibonacci lattice, Gonzalez 2010, Math Geosci
    # 42:49); manifold3d says which of them lie in bone, as tiny cubes around them.
    count = 4000
    z = -(numpy.arange(count) + 0.5) / count
    turn = numpy.arange(count) * numpy.pi * (3 - numpy.sqrt(5))
    ring = numpy.sqrt(1 - z * z)
    local = numpy.column_stack([ring * numpy.cos(turn), ring * numpy.sin(turn), z])
    w = numpy.asarray(axis)
    u = numpy.cross(w, [1.0, 0, 0])
    u /= numpy.linalg.norm(u)
    points = centre + (diameter + 2) / 2 * local @ numpy.array([u, numpy.cross(w, u), w])
    theirs = inside(vertices, faces, points)
    # A lattice of N points misses an area by about N^(-3/4).
    assert found["coverage"] == pytest.approx(theirs.mean(), abs=count ** -0.75 * 3)


def inside(vertices, faces, points):
    """Which points lie in the mesh, by the winding number (van Oosterom & Strackee 1983)."""
    corners = vertices[faces]
    found = []
    for point in points:
        a, b, c = (corners[:, k] - point for k in range(3))
        la, lb, lc = (numpy.linalg.norm(v, axis=1) for v in (a, b, c))
        triple = numpy.einsum("ij,ij->i", a, numpy.cross(b, c))
        dots = [numpy.einsum("ij,ij->i", *pair) for pair in ((a, b), (b, c), (c, a))]
        below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
        found.append(2 * numpy.arctan2(triple, below).sum() / (4 * numpy.pi))
    return numpy.asarray(found) > 0.5
