//! The acetabulum found on a bare mesh: a hollow, nearly spherical region, wherever and however the bone lies.
//!
//! How it is found: lines from the surface along its outward normals meet near the centre of a
//! spherical hollow and nowhere else as densely. They vote for cells of space; a sphere is
//! fitted to the surface around each likely cell, its outliers falling away by degrees; the
//! hollow that covers most of its sphere is taken, if it covers enough of it, to every side.
//!
//! Guarantees: the same mesh gives the same bits; turning and moving the mesh turns and moves the
//! result, to within the size of a voting cell's effect on the start of the fit. Not guaranteed: that a
//! hollow with the shape of a socket is one. Triangles must share vertices, or their normals are not
//! averaged and a coarse mesh may show nothing; normals must point out of the bone.

pub(crate) mod chirality;
mod hollow;
pub(crate) mod surface;
mod vote;

use cupwright_geometry::{TriMesh, topology};
use nalgebra::{Point3, UnitVector3};
use thiserror::Error;

use crate::side::Side;
pub(crate) use hollow::Hollow;
use surface::SurfacePoint;

/// An acetabulum, in the mesh's own coordinates, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Socket {
    /// Centre of the sphere nearest to the joint surface.
    pub centre: Point3<f64>,
    /// Its radius.
    pub radius: f64,
    /// Where the socket opens to: away from the mean direction, seen from the centre, of the surface of
    /// the hollow including its floor. It differs from the normal of the rim by some degrees, since the
    /// rim is uneven and the notch open.
    pub axis: UnitVector3<f64>,
    /// Root mean square distance from the sphere of the surface within 3 mm of it, in solid angle.
    pub rms: f64,
    /// Solid angle that the hollow, its floor included, has from the centre, as a share of half a sphere:
    /// about 0.9 to 1.1 in an adult, less where the socket is shallow.
    pub coverage: f64,
    /// Which hip it is, where the shape of the bone around tells.
    ///
    /// Told from the handedness of the bone alone, in any pose: a coarse right hemipelvis and its mirror
    /// image are laid over it, sockets together. `None` when neither fits clearly better, as with a cut
    /// or a whole pelvis.
    pub side: Option<Side>,
}

/// Why no socket was found.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NoSocket {
    /// The mesh is smaller than a socket.
    #[error(
        "the mesh is only {extent:.3} mm across, too small to hold a socket: is the unit right?"
    )]
    TooSmall {
        /// Longest edge of the box around it, in mm.
        extent: f64,
    },
    /// The mesh is far larger than a pelvis.
    #[error("the mesh is {extent:.0} mm across, too large for a pelvis: is the unit right?")]
    TooLarge {
        /// Longest edge of the box around it, in mm.
        extent: f64,
    },
    /// The mesh is closed and its normals point into the bone.
    #[error(
        "the mesh is inside out (its volume is {volume:.1} mm³), so its hollows cannot be told from its bulges"
    )]
    InsideOut {
        /// Its volume, in mm³.
        volume: f64,
    },
    /// Nothing on the mesh is hollow with a radius of 15 to 40 mm.
    #[error("no part of the mesh is hollow with a radius between {} and {} mm", hollow::RADII.start(), hollow::RADII.end())]
    NothingHollow,
    /// The roundest hollow covers too little of its sphere.
    #[error("the roundest hollow (radius {radius:.1} mm about {:.1}, {:.1}, {:.1}) covers only {coverage:.2} of half its sphere", centre.x, centre.y, centre.z)]
    TooLittleCover {
        /// Centre of its sphere, in mm.
        centre: Point3<f64>,
        /// Radius of its sphere, in mm.
        radius: f64,
        /// Solid angle as a share of half a sphere.
        coverage: f64,
    },
    /// The roundest hollow is a ring, a groove or a closed cavity: it does not open to one side.
    #[error("the roundest hollow (radius {radius:.1} mm about {:.1}, {:.1}, {:.1}) is a ring, a groove or a closed cavity", centre.x, centre.y, centre.z)]
    NotABowl {
        /// Centre of its sphere, in mm.
        centre: Point3<f64>,
        /// Radius of its sphere, in mm.
        radius: f64,
    },
}

/// Least and greatest size of a mesh that is searched, in mm: less than a socket of 30 mm, more than a
/// whole skeleton. A pelvis of 250 mm in metres or tenths of a millimetre is outside, in inches (10) too.
const EXTENTS: std::ops::RangeInclusive<f64> = 25.0..=2400.0;

/// Pieces of surface on which hollows are compared; the one chosen is then fitted to all of them.
const COMPARED: u32 = 20_000;

/// Sockets nearer than this to each other are one, in mm; those of a person lie 130 mm and more apart.
const APART: f64 = 80.0;

/// The socket of a hemipelvis in any pose, found from its shape alone.
///
/// A mesh with two sockets gives the one that covers more of its sphere. Takes about a fifth of a
/// second for 120 000 triangles on one core.
///
/// # Errors
/// When the size of the mesh says that its unit is wrong, when it is inside out, and when it has no
/// hollow like a socket; the error then says what came closest.
pub fn find_socket(mesh: &TriMesh) -> Result<Socket, NoSocket> {
    of_plausible_size(mesh)?;
    right_side_out(mesh)?;
    let surface = surface::points_of(mesh);
    let best = sockets_on(&surface)?.swap_remove(0);
    Ok(Socket {
        centre: best.sphere.centre,
        radius: best.sphere.radius,
        axis: best.opening,
        rms: best.sphere.rms,
        coverage: best.coverage,
        side: chirality::side_of(&best.sphere, &best.opening, &surface),
    })
}

/// Whether the mesh can be a pelvis in mm by its size.
pub(crate) fn of_plausible_size(mesh: &TriMesh) -> Result<(), NoSocket> {
    let extent = mesh.bounds().map_or(0.0, |b| b.extent().max());
    if extent < *EXTENTS.start() {
        return Err(NoSocket::TooSmall { extent });
    }
    if extent > *EXTENTS.end() {
        return Err(NoSocket::TooLarge { extent });
    }
    Ok(())
}

/// Whether a closed mesh has its normals pointing out.
pub(crate) fn right_side_out(mesh: &TriMesh) -> Result<(), NoSocket> {
    let volume = mesh.volume();
    if volume < 0.0 && topology::faulty_edges(mesh.triangles()).is_empty() {
        return Err(NoSocket::InsideOut { volume });
    }
    Ok(())
}

/// The hollows like a socket, each at least [`APART`] from the others before it; the one that covers most
/// of its sphere first. There is at least one.
pub(crate) fn sockets_on(surface: &[SurfacePoint]) -> Result<Vec<Hollow>, NoSocket> {
    let fewer = surface::thinned(surface, COMPARED);
    let mut hollows: Vec<Hollow> = vote::likely_centres(surface)
        .iter()
        .filter_map(|centre| Hollow::around(centre, &fewer))
        .collect();
    let best = most_like_a_socket(&hollows)?.settled(surface);
    refusal(&best).map_or(Ok(()), Err)?;
    let mut sockets = vec![best];
    hollows.sort_by(|a, b| b.merit.total_cmp(&a.merit));
    for hollow in hollows.iter().filter(|h| refusal(h).is_none()) {
        let far = |s: &Hollow| (s.sphere.centre - hollow.sphere.centre).norm() > APART;
        if sockets.iter().all(far) {
            sockets.push(hollow.settled(surface));
        }
    }
    Ok(sockets)
}

/// The hollow that covers most of its sphere among those that are like a socket; failing that, why the
/// one that covers most is not.
fn most_like_a_socket(hollows: &[Hollow]) -> Result<&Hollow, NoSocket> {
    let by_merit = |a: &&Hollow, b: &&Hollow| a.merit.total_cmp(&b.merit);
    let sockets = hollows.iter().filter(|h| refusal(h).is_none());
    sockets.max_by(by_merit).ok_or_else(|| {
        let nearest = hollows.iter().max_by(by_merit);
        nearest.and_then(refusal).unwrap_or(NoSocket::NothingHollow)
    })
}

/// What keeps a hollow from being a socket.
fn refusal(hollow: &Hollow) -> Option<NoSocket> {
    let (centre, radius) = (hollow.sphere.centre, hollow.sphere.radius);
    if !hollow.covers_enough() {
        Some(NoSocket::TooLittleCover {
            centre,
            radius,
            coverage: hollow.coverage,
        })
    } else if !hollow.is_bowl() {
        Some(NoSocket::NotABowl { centre, radius })
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use cupwright_geometry::samples;
    use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};
    use std::f64::consts::{FRAC_PI_2, PI, TAU};

    const RADIUS: f64 = 25.0;

    /// The solid swept about the z axis by a line of (rho, z) that runs counter-clockwise in the half
    /// plane, closed by a tip on the axis at the first and last z.
    fn revolved(line: &[[f64; 2]], [first, last]: [f64; 2], around: u32) -> TriMesh {
        let rows = u32::try_from(line.len()).unwrap();
        let mut vertices: Vec<_> = line
            .iter()
            .flat_map(|&[rho, z]| {
                (0..around).map(move |i| {
                    let (sin, cos) = (TAU * f64::from(i) / f64::from(around)).sin_cos();
                    Point3::new(rho * cos, rho * sin, z)
                })
            })
            .collect();
        let tips = [rows * around, rows * around + 1];
        vertices.extend([first, last].map(|z| Point3::new(0.0, 0.0, z)));
        let at = |row: u32, i: u32| row * around + i % around;
        let mut triangles = Vec::new();
        for i in 0..around {
            triangles.push([tips[0], at(0, i + 1), at(0, i)]);
            triangles.push([tips[1], at(rows - 1, i), at(rows - 1, i + 1)]);
            for row in 0..rows - 1 {
                triangles.push([at(row, i), at(row, i + 1), at(row + 1, i + 1)]);
                triangles.push([at(row, i), at(row + 1, i + 1), at(row + 1, i)]);
            }
        }
        TriMesh::new(vertices, triangles).unwrap()
    }

    /// A block whose pocket, a half sphere about the origin, opens to +z; `depth` of the pocket by the
    /// angle from its bottom.
    fn pocket(depth: impl Fn(f64) -> f64) -> TriMesh {
        let mut line = vec![[18.0, -40.0], [36.0, -40.0]];
        line.extend((1..=10).map(|k| [36.0, -40.0 + 4.0 * f64::from(k)]));
        line.push([30.0, 0.0]);
        line.extend((1..=40).rev().map(|k| {
            let angle = FRAC_PI_2 * f64::from(k) / 40.0;
            let (sin, cos) = angle.sin_cos();
            [depth(angle) * sin, -depth(angle) * cos]
        }));
        revolved(&line, [-40.0, -depth(0.0)], 96)
    }

    /// A block whose pocket has its bottom drilled away, 40° around the axis.
    fn drilled() -> TriMesh {
        let mut line = vec![
            [18.0, -40.0],
            [36.0, -40.0],
            [36.0, -20.0],
            [36.0, 0.0],
            [30.0, 0.0],
        ];
        line.extend((0..=20).map(|k| {
            let (sin, cos) = (FRAC_PI_2 - 0.872_664 * f64::from(k) / 20.0).sin_cos();
            [RADIUS * sin, -RADIUS * cos]
        }));
        let around = 96;
        let tipped = revolved(&line, [-40.0, -40.0], around);
        // The last row is led to the first in place of the tips.
        let rows = u32::try_from(line.len()).unwrap();
        let at = |row: u32, i: u32| row * around + i % around;
        let walls = tipped
            .triangles()
            .iter()
            .filter(|t| t.iter().all(|&v| v < rows * around));
        let bore = (0..around).flat_map(|i| {
            let (last, next) = (at(rows - 1, i), at(rows - 1, i + 1));
            [[last, next, at(0, i + 1)], [last, at(0, i + 1), at(0, i)]]
        });
        let triangles = walls.copied().chain(bore).collect();
        TriMesh::new(tipped.vertices().to_vec(), triangles).unwrap()
    }

    fn poses() -> Vec<Isometry3<f64>> {
        let at = |x, y, z, turn| Isometry3::new(Vector3::new(x, y, z), turn);
        vec![
            Isometry3::identity(),
            at(300.0, -200.0, 900.0, Vector3::new(1.0, 0.4, -2.0)),
            at(-5.0, 77.0, 13.0, Vector3::new(-0.3, 2.5, 0.9)),
            at(0.5, 1.0, -60.0, Vector3::new(0.0, PI, 0.1)),
        ]
    }

    fn ellipsoid(centre: [f64; 3], half_axes: [f64; 3], turn: [f64; 3]) -> TriMesh {
        let ball = samples::sphere(1.0, 4);
        let turn = Rotation3::from_euler_angles(turn[0], turn[1], turn[2]);
        let (centre, half_axes) = (Vector3::from(centre), Vector3::from(half_axes));
        let vertices = ball
            .vertices()
            .iter()
            .map(|p| Point3::from(centre + turn * p.coords.component_mul(&half_axes)));
        TriMesh::new(vertices.collect(), ball.triangles().to_vec()).unwrap()
    }

    /// Lumps where a right hip bone has its parts, around a pocket: x lateral, y anterior, z superior.
    fn right_hip_bone() -> TriMesh {
        let opening = Vector3::new(0.75, 0.25, -0.6);
        let turn = UnitQuaternion::rotation_between(&Vector3::z(), &opening).unwrap();
        [
            // Wing, leaning outward and turned forward at its front; posterior spines.
            ellipsoid([14.0, -25.0, 78.0], [9.0, 68.0, 46.0], [0.0, 0.25, -0.5]),
            ellipsoid([-38.0, -94.0, 68.0], [12.0, 18.0, 24.0], [0.0, 0.0, 0.0]),
            ellipsoid([-12.0, -20.0, 32.0], [14.0, 28.0, 26.0], [0.0, 0.0, 0.0]),
            // Ischium and its ramus.
            ellipsoid([-18.0, -34.0, -44.0], [13.0, 16.0, 40.0], [0.0, 0.0, 0.0]),
            ellipsoid([-52.0, 2.0, -68.0], [36.0, 8.0, 9.0], [0.0, -0.35, -0.65]),
            // Pubis: upper ramus and body.
            ellipsoid([-48.0, 36.0, -4.0], [36.0, 9.0, 9.0], [0.0, 0.2, -0.2]),
            ellipsoid([-80.0, 34.0, -32.0], [8.0, 11.0, 20.0], [0.0, 0.0, 0.0]),
        ]
        .iter()
        .fold(
            pocket(|_| RADIUS).moved(&Isometry3::from_parts(Translation3::identity(), turn)),
            |bone, lump| bone.joined(lump),
        )
    }

    #[test]
    fn a_pocket_is_found_in_any_pose() {
        let block = pocket(|_| RADIUS);
        assert!(block.volume() > 0.0);
        for pose in poses() {
            let socket = find_socket(&block.moved(&pose)).unwrap();
            assert_abs_diff_eq!(socket.centre, pose * Point3::origin(), epsilon = 0.01);
            assert_abs_diff_eq!(socket.radius, RADIUS, epsilon = 0.01);
            assert!(socket.axis.angle(&(pose * Vector3::z())) < 0.01);
            assert!(socket.rms < 0.05 && socket.side.is_none());
            assert_abs_diff_eq!(socket.coverage, 1.0, epsilon = 0.05);
        }
    }

    #[test]
    fn a_fossa_deeper_than_the_joint_surface_leaves_the_fit_alone() {
        let ramp = |angle: f64| ((0.7 - angle) / 0.2).clamp(0.0, 1.0);
        let socket = find_socket(&pocket(|angle| RADIUS + 4.0 * ramp(angle))).unwrap();
        assert_abs_diff_eq!(socket.centre, Point3::origin(), epsilon = 0.1);
        assert_abs_diff_eq!(socket.radius, RADIUS, epsilon = 0.1);
        assert!(socket.axis.angle(&Vector3::z()) < 0.01);
    }

    #[test]
    fn a_rough_surface_moves_the_centre_little() {
        let smooth = pocket(|_| RADIUS);
        let rough = smooth.vertices().iter().enumerate().map(|(i, p)| {
            let wave = |k: f64| 0.4 * (k * f64::from(u32::try_from(i).unwrap())).sin();
            p + Vector3::new(wave(12.9898), wave(78.233), wave(37.719))
        });
        let rough = TriMesh::new(rough.collect(), smooth.triangles().to_vec()).unwrap();
        let socket = find_socket(&rough).unwrap();
        assert_abs_diff_eq!(socket.centre, Point3::origin(), epsilon = 0.3);
        assert_abs_diff_eq!(socket.radius, RADIUS, epsilon = 0.3);
        assert!((0.1..0.5).contains(&socket.rms), "{}", socket.rms);
    }

    #[test]
    fn the_side_is_told_in_any_pose_and_turns_with_the_mirror() {
        let right = right_hip_bone();
        for pose in poses() {
            let socket = find_socket(&right.moved(&pose)).unwrap();
            assert_abs_diff_eq!(socket.centre, pose * Point3::origin(), epsilon = 0.1);
            assert_eq!(socket.side, Some(Side::Right));
            let mirrored = find_socket(&right.mirrored_x().moved(&pose)).unwrap();
            assert_eq!(mirrored.side, Some(Side::Left));
        }
    }

    #[test]
    fn the_same_mesh_gives_the_same_bits() {
        let bone = right_hip_bone();
        let [a, b] = [0, 1].map(|_| find_socket(&bone).unwrap());
        assert_eq!(a, b);
        assert_eq!(a.centre.x.to_bits(), b.centre.x.to_bits());
    }

    #[test]
    fn hollows_that_are_no_sockets_are_refused_by_name() {
        assert_eq!(
            find_socket(&samples::cuboid([100.0, 80.0, 60.0])),
            Err(NoSocket::NothingHollow)
        );
        assert_eq!(
            find_socket(&samples::sphere(25.0, 4)),
            Err(NoSocket::NothingHollow)
        );
        let ring = find_socket(&samples::torus(30.0, 10.0, 100, 60));
        assert!(matches!(ring, Err(NoSocket::NotABowl { .. })), "{ring:?}");
        let drilled = find_socket(&drilled());
        assert!(
            matches!(drilled, Err(NoSocket::NotABowl { .. })),
            "{drilled:?}"
        );
        let cavity = samples::sphere(60.0, 5).joined(&samples::sphere(25.0, 4).reversed());
        let cavity = find_socket(&cavity);
        assert!(
            matches!(cavity, Err(NoSocket::NotABowl { radius, .. }) if (radius - 25.0).abs() < 0.3)
        );
        // A sphere of radius 30 whose centre stands 20 above the rim: a third of half of it.
        let shallow = pocket(|angle| {
            let along = 20.0 * angle.cos();
            (along * along + 500.0).sqrt() - along
        });
        let shallow = find_socket(&shallow);
        assert!(
            matches!(shallow, Err(NoSocket::TooLittleCover { .. })),
            "{shallow:?}"
        );
    }

    #[test]
    fn wrong_units_and_inside_out_meshes_are_named() {
        let block = pocket(|_| RADIUS);
        let metres = find_socket(&block.scaled(0.001));
        assert!(matches!(metres, Err(NoSocket::TooSmall { extent }) if extent < 0.1));
        let microns = find_socket(&block.scaled(1000.0));
        assert!(matches!(microns, Err(NoSocket::TooLarge { .. })));
        let turned = find_socket(&block.reversed());
        assert!(matches!(turned, Err(NoSocket::InsideOut { volume }) if volume < 0.0));
    }
}
