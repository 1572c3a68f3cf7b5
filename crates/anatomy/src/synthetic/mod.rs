//! A pelvis made from numbers: a closed mesh that looks and measures like bone, with its landmarks.
//!
//! [`pelvis`] builds a hemipelvis from a [`Shape`], most often that of a [`Preset`], in the pelvic frame:
//! mm, origin midway between the ASIS, x toward the patient's right, y anterior, z superior, the
//! anterior pelvic plane being y = 0. The same numbers give the same mesh bit for bit, on any number of
//! threads. The bone is a model for teaching and engineering study; no part of it comes from a scan.

mod acetabulum;
mod bone;
mod layers;
mod measures;
mod meshing;
mod preset;
mod published;
mod relax;
mod remesh;
mod shape;
mod solid;
mod spline;
mod surface;
mod table;
mod template;

use std::f64::consts::TAU;

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};

pub use layers::{Layers, layers};
pub use measures::Measures;
pub use preset::{Preset, Sourced};
pub use published::Finding;
pub use shape::{BadShape, PARAMETERS, Parameter, Shape};

use crate::{Both, Landmarks, Side};
use bone::Bone;
use meshing::{closed, meshed};
use surface::Draft;

/// How finely the bone is cut into triangles.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Resolution {
    /// About 30,000 triangles.
    Coarse,
    /// About 120,000 triangles.
    #[default]
    Middle,
    /// About 500,000 triangles.
    Fine,
}

/// A part of the surface, by the name anatomy gives it.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Region {
    /// The articular horseshoe of the socket.
    Lunate,
    /// The floor of the socket and the notch below it.
    Fossa,
    /// The lip of the socket.
    Rim,
    /// The inside of the pelvis behind the socket: the quadrilateral plate.
    MedialWall,
    /// Bone in front of the socket, from the pubis to the anterior border of the ilium.
    AnteriorColumn,
    /// Bone behind the socket, from the ischium to the greater sciatic notch.
    PosteriorColumn,
    /// The iliac wing.
    Wing,
}

/// What is known of the socket because it was made so, in the pelvic frame, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct NativeSocket {
    /// Centre of the lunate surface: the native hip centre.
    pub centre: Point3<f64>,
    /// Radius of the lunate surface across the socket, mm.
    pub radius: f64,
    /// Unit vector out of the socket.
    pub axis: Vector3<f64>,
    /// The highest line of the lip, from 12 o'clock by way of 3; 360 points a degree apart, closed.
    pub rim: Vec<Point3<f64>>,
    /// Border between lunate surface and fossa with notch, closed.
    pub fossa: Vec<Point3<f64>>,
    /// The true floor: the middle of the fossa's own bone, even where osteophytes hide it.
    pub true_floor: Point3<f64>,
    /// The teardrop: floor of the fossa and inside of the pelvis, level with the hip centre.
    pub teardrop: [Point3<f64>; 2],
}

/// A synthetic hemipelvis.
#[derive(Clone, Debug)]
pub struct Pelvis {
    /// Which side it is.
    pub side: Side,
    /// Its surface: closed, in one piece, with one hole through it, the obturator foramen.
    pub mesh: TriMesh,
    /// Landmarks of both sides; those of the side that has no mesh are mirror images.
    pub landmarks: Landmarks,
    /// Anterior inferior iliac spines of both sides.
    pub aiis: Both<Point3<f64>>,
    /// The socket as made.
    pub socket: NativeSocket,
    /// The region of each triangle of `mesh`.
    pub regions: Vec<Region>,
}

impl Pelvis {
    /// Its landmarks by name, in mm.
    pub fn points(&self) -> Vec<(&'static str, Point3<f64>)> {
        let (marks, socket) = (&self.landmarks, &self.socket);
        let mut named = vec![
            ("asis_right", marks.asis.right),
            ("asis_left", marks.asis.left),
            ("aiis_right", self.aiis.right),
            ("aiis_left", self.aiis.left),
            ("pubic_tubercle_right", marks.pubic_tubercle.right),
            ("pubic_tubercle_left", marks.pubic_tubercle.left),
        ];
        if let Some(psis) = &marks.psis {
            named.extend([("psis_right", psis.right), ("psis_left", psis.left)]);
        }
        named.extend([
            ("hip_centre", socket.centre),
            ("true_floor", socket.true_floor),
            ("teardrop_floor", socket.teardrop[0]),
            ("teardrop_inside", socket.teardrop[1]),
        ]);
        named
    }
}

/// The hemipelvis of `shape` on `side`.
///
/// # Errors
/// When a number of the shape is out of its range, or the numbers together give no closed bone.
pub fn pelvis(shape: &Shape, side: Side, resolution: Resolution) -> Result<Pelvis, BadShape> {
    shape.check()?;
    let bone = Bone::new(shape);
    let draft = meshed(&bone, shape, resolution)?;
    let regions = draft
        .triangles
        .iter()
        .map(|t| region(&bone, &draft, *t))
        .collect();
    let mesh = closed(draft)?;
    let right = Pelvis {
        side: Side::Right,
        mesh,
        landmarks: landmarks(&bone, shape),
        aiis: both(bone.aiis()),
        socket: native_socket(&bone),
        regions,
    };
    Ok(match side {
        Side::Right => right,
        Side::Left => mirrored(right),
    })
}

fn landmarks(bone: &Bone, shape: &Shape) -> Landmarks {
    let [asis, pubic_tubercle, psis] = bone.named_places(&template::named_places(shape));
    Landmarks {
        asis: both(asis),
        pubic_tubercle: both(pubic_tubercle),
        psis: Some(both(psis)),
    }
}

fn both(right: Point3<f64>) -> Both<Point3<f64>> {
    Both {
        right,
        left: across_midline(right),
    }
}

fn across_midline(p: Point3<f64>) -> Point3<f64> {
    Point3::new(-p.x, p.y, p.z)
}

fn native_socket(bone: &Bone) -> NativeSocket {
    let socket = &bone.socket;
    let quarter = 0.25 * TAU;
    let on_lip = |degree: u32| {
        let clock = f64::from(degree).to_radians();
        let start = socket.point(clock, quarter - socket.rim_below(clock), 2.0);
        bone.projected(&start, 20)
    };
    NativeSocket {
        centre: socket.centre,
        radius: socket.radius,
        axis: socket.axis,
        rim: (0..360).map(on_lip).collect(),
        fossa: socket.fossa_outline(),
        true_floor: socket.true_floor(),
        teardrop: bone.teardrop(),
    }
}

fn region(bone: &Bone, draft: &Draft, corners: [u32; 3]) -> Region {
    let socket = &bone.socket;
    let corners = corners.map(|i| draft.vertices[i as usize]);
    // Clear of the rounded edges, so that what is called lunate is the sphere itself.
    let lunate = |p: &Point3<f64>| {
        let [rim, fossa, notch] = socket.outlines(p);
        let beyond = socket.distance(p) - socket.radius;
        rim < -2.4 && fossa > 1.0 && notch > 2.4 && beyond.abs() < 0.3
    };
    if corners.iter().all(lunate) {
        return Region::Lunate;
    }
    let p = Point3::from(corners.iter().map(|p| p.coords).sum::<Vector3<f64>>() / 3.0);
    let [rim, fossa, notch] = socket.outlines(&p);
    let beyond = socket.distance(&p) - socket.radius;
    let q = p - socket.centre;
    let inside = beyond < 0.45 * socket.radius && q.dot(&socket.axis) < 0.35 * socket.radius;
    if rim < 3.0 && beyond < 4.5 && (fossa < 2.5 || notch < 1.0) && inside {
        Region::Fossa
    } else if rim.abs() < 6.0 && beyond < 7.0 || rim < 0.0 && beyond < 1.0 {
        Region::Rim
    } else if q.x < -0.6 * socket.radius && q.norm() < 1.9 * socket.radius {
        Region::MedialWall
    } else if q.z > socket.radius * 1.3 {
        Region::Wing
    } else if q.y > 0.0 {
        Region::AnteriorColumn
    } else {
        Region::PosteriorColumn
    }
}

fn mirrored(right: Pelvis) -> Pelvis {
    let socket = right.socket;
    let across = |points: Vec<Point3<f64>>| points.into_iter().map(across_midline).collect();
    Pelvis {
        side: Side::Left,
        mesh: right.mesh.mirrored_x(),
        socket: NativeSocket {
            centre: across_midline(socket.centre),
            radius: socket.radius,
            axis: Vector3::new(-socket.axis.x, socket.axis.y, socket.axis.z),
            rim: across(socket.rim),
            fossa: across(socket.fossa),
            true_floor: across_midline(socket.true_floor),
            teardrop: socket.teardrop.map(across_midline),
        },
        ..right
    }
}
