//! The upper femur as a solid, after its head has been resected: a few rounded parts, from numbers.
//!
//! A model for teaching: neck-shaft angle, antetorsion, offset and the height of the greater trochanter are
//! those of the femur; every other size is that of a femur with 43 mm of offset, **assumed**, and grows
//! with the offset. The parts overlap, each being a closed shell of its own: what touches one of them
//! touches bone, but volumes of the whole count overlaps twice.

use std::f64::consts::{PI, TAU};

use cupwright_geometry::{Solid, TriMesh};
use nalgebra::{Point3, Rotation3, Unit, Vector3};
use schemars::JsonSchema;
use serde::Serialize;

use super::BadJoint;
use super::stem::Femur;

/// A part of the upper femur.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, PartialEq, Serialize)]
pub enum FemurPart {
    /// The shaft, to 150 mm below the neck.
    Shaft,
    /// What the resection leaves of the neck.
    Neck,
    /// The greater trochanter.
    GreaterTrochanter,
    /// The lesser trochanter.
    LesserTrochanter,
}

impl std::fmt::Display for FemurPart {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Shaft => "shaft",
            Self::Neck => "neck",
            Self::GreaterTrochanter => "greater trochanter",
            Self::LesserTrochanter => "lesser trochanter",
        })
    }
}

/// How many triangles go round a part where nothing else is asked for: the surface lies within 0.03 mm of
/// the rounded part it stands for.
pub const AROUND: u32 = 64;

/// The offset in mm of the femur whose sizes are written down here.
const USUAL_OFFSET: f64 = 43.0;

/// The most rings between the ends of a part.
const MOST_BANDS: u32 = 200;

/// The upper femur as a solid and its parts.
#[derive(Clone, Debug)]
pub struct FemurSolid {
    /// In the hip frame, thigh hanging straight down: origin the native head's centre.
    pub solid: Solid,
    /// Each part with the number of its first triangle, in the order of the triangles.
    parts: Vec<(FemurPart, usize)>,
}

impl FemurSolid {
    /// The part that a triangle belongs to.
    pub fn part(&self, triangle: u32) -> FemurPart {
        let begun = |(_, first): &&(FemurPart, usize)| *first <= triangle as usize;
        let last = self.parts.iter().take_while(begun).last();
        last.map_or(FemurPart::Shaft, |(part, _)| *part)
    }

    /// The same femur mirrored in x = 0, for a left hip.
    ///
    /// # Errors
    /// Never, the mirror image of a solid being one.
    pub fn mirrored(&self) -> Result<Self, BadJoint> {
        let mesh = self.solid.mesh().mirrored_x();
        Ok(Self {
            solid: Solid::try_from(mesh).map_err(no_femur)?,
            parts: self.parts.clone(),
        })
    }
}

/// Two balls and all that lies between them, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Tapered {
    /// Their centres.
    ends: [Vector3<f64>; 2],
    /// Their radii.
    radii: [f64; 2],
}

/// The upper femur, with `around` vertices round each part.
///
/// # Errors
/// When its numbers make no closed bone.
pub fn femur_solid(femur: &Femur, around: u32) -> Result<FemurSolid, BadJoint> {
    let around = around.max(8);
    let mut whole: Option<TriMesh> = None;
    let mut parts = Vec::new();
    for (part, tapered) in parts_of(femur) {
        let mesh = tapered.mesh(around).map_err(no_femur)?;
        let first = whole.as_ref().map_or(0, |w| w.triangles().len());
        parts.push((part, first));
        whole = Some(whole.map_or_else(|| mesh.clone(), |w| w.joined(&mesh)));
    }
    let mesh = whole.ok_or_else(|| no_femur("no parts"))?;
    Ok(FemurSolid {
        solid: Solid::try_from(mesh).map_err(no_femur)?,
        parts,
    })
}

fn no_femur(problem: impl std::fmt::Display) -> BadJoint {
    BadJoint::Femur(problem.to_string())
}

/// The parts in the hip frame.
///
/// Sizes and places are told for an offset of 43 mm, from where the neck's axis crosses the shaft's: x along
/// the level outward direction of the neck, y forward and square to it, z up. All assumed.
fn parts_of(femur: &Femur) -> [(FemurPart, Tapered); 4] {
    let size = femur.offset / USUAL_OFFSET;
    let root = femur.root();
    let turned = Rotation3::from_axis_angle(&Vector3::z_axis(), -femur.neck.antetorsion);
    let at = |place: [f64; 3]| root + turned * (Vector3::from(place) * size);
    let tapered = |ends: [Vector3<f64>; 2], radii: [f64; 2]| Tapered {
        ends,
        radii: radii.map(|radius| radius * size),
    };
    let tip_radius = 10.0;
    let tip = at([12.0, -10.0, 0.0]);
    let tip_height = -femur.trochanter_below - tip_radius * size;
    let stump = root - femur.neck.direction().into_inner() * (11.0 * size);
    [
        (
            FemurPart::Shaft,
            tapered([at([0.0, 0.0, -5.0]), at([0.0, 0.0, -150.0])], [16.0, 14.0]),
        ),
        (FemurPart::Neck, tapered([root, stump], [15.0, 13.0])),
        (
            FemurPart::GreaterTrochanter,
            tapered(
                [at([8.0, -2.0, 0.0]), Vector3::new(tip.x, tip.y, tip_height)],
                [16.0, tip_radius],
            ),
        ),
        (
            FemurPart::LesserTrochanter,
            tapered(
                [at([-4.0, -5.0, -17.0]), at([-10.0, -13.0, -17.0])],
                [12.0, 7.0],
            ),
        ),
    ]
}

impl Tapered {
    /// Its surface: rings about the line of the centres, `around` triangles round each, their corners on
    /// the surface.
    ///
    /// Where d is the distance of the centres, the two balls are parted by the rings whose normals make
    /// the angle acos((r₀ − r₁) / d) with the line.
    fn mesh(&self, around: u32) -> Result<TriMesh, cupwright_geometry::BadMesh> {
        let along = self.ends[1] - self.ends[0];
        let direction = Unit::try_new(along, f64::MIN_POSITIVE).unwrap_or(Vector3::z_axis());
        let narrowing = (self.radii[0] - self.radii[1]) / along.norm().max(f64::MIN_POSITIVE);
        let parting = narrowing.clamp(-1.0, 1.0).acos();
        let across = Rotation3::rotation_between(&Vector3::z(), &direction)
            .unwrap_or_else(|| Rotation3::from_axis_angle(&Vector3::x_axis(), PI));
        let quarter = around / 4;
        let share = |k: u32| f64::from(k) / f64::from(quarter);
        let far = (0..=quarter).map(|k| (1.0, parting * share(k)));
        // Between the balls a ring every two triangles' width: long needles would be slow to search.
        let width = 2.0 * TAU * self.radii[0].max(self.radii[1]) / f64::from(around);
        let bands = (1..MOST_BANDS).find(|&n| width * f64::from(n) >= along.norm());
        let bands = bands.unwrap_or(MOST_BANDS);
        let between = (1..bands).rev();
        let between = between.map(|k| (f64::from(k) / f64::from(bands), parting));
        let near = (0..=quarter).map(|k| (0.0, parting + (PI - parting) * share(k)));
        let profile: Vec<(f64, f64)> = far.chain(between).chain(near).collect();
        let rings = 2 * quarter + bands - 1;
        let place = |end: f64, from_line: f64, round: f64| {
            let (sin, cos) = from_line.sin_cos();
            let normal = Vector3::new(sin * round.cos(), sin * round.sin(), cos);
            let radius = self.radii[0] + (self.radii[1] - self.radii[0]) * end;
            Point3::from(self.ends[0] + along * end + across * normal * radius)
        };
        let inner = &profile[1..profile.len() - 1];
        let on_rings = inner.iter().flat_map(|&(end, from_line)| {
            (0..around).map(move |k| (end, from_line, TAU * f64::from(k) / f64::from(around)))
        });
        let poles = [(1.0, 0.0, 0.0), (0.0, PI, 0.0)];
        let vertices = poles.into_iter().chain(on_rings);
        let vertices = vertices.map(|(end, from_line, round)| place(end, from_line, round));
        TriMesh::new(vertices.collect(), ringed(around, rings))
    }
}

/// Triangles over `rings` rings of `around` vertices each, which follow the two poles.
fn ringed(around: u32, rings: u32) -> Vec<[u32; 3]> {
    let vertex = |ring: u32, k: u32| 2 + ring * around + k % around;
    let caps = (0..around).flat_map(|k| {
        [
            [0, vertex(0, k), vertex(0, k + 1)],
            [1, vertex(rings - 1, k + 1), vertex(rings - 1, k)],
        ]
    });
    let bands = (0..rings - 1).flat_map(|ring| {
        (0..around).flat_map(move |k| {
            let [a, b] = [vertex(ring, k), vertex(ring, k + 1)];
            let [c, d] = [vertex(ring + 1, k), vertex(ring + 1, k + 1)];
            [[a, c, d], [a, d, b]]
        })
    });
    caps.chain(bands).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::joint::entry::FemurEntry;

    fn femur(change: impl FnOnce(&mut FemurEntry)) -> Femur {
        let mut entry = FemurEntry::default();
        change(&mut entry);
        Femur::new(&entry)
    }

    #[test]
    fn a_tapered_part_has_the_volume_of_two_caps_and_a_frustum() {
        let (long, thick, thin) = (40.0, 12.0, 7.0);
        let part = Tapered {
            ends: [
                Vector3::new(1.0, 2.0, 3.0),
                Vector3::new(1.0, 2.0 - long, 3.0),
            ],
            radii: [thick, thin],
        };
        let narrowing: f64 = (thick - thin) / long;
        let cap = |r: f64, h: f64| PI * h * h * (3.0 * r - h) / 3.0;
        let (wide, narrow) = (
            thick * (1.0 - narrowing * narrowing).sqrt(),
            thin * (1.0 - narrowing * narrowing).sqrt(),
        );
        let height = long - narrowing * (thick - thin);
        let frustum = PI * height / 3.0 * (wide * wide + wide * narrow + narrow * narrow);
        let expected =
            cap(thick, thick * (1.0 + narrowing)) + cap(thin, thin * (1.0 - narrowing)) + frustum;
        let found = Solid::try_from(part.mesh(400).unwrap()).unwrap().volume();
        assert!((found / expected - 1.0).abs() < 2e-4, "{found} {expected}");
    }

    #[test]
    fn each_triangle_knows_its_part() {
        let made = femur_solid(&femur(|_| ()), 16).unwrap();
        assert_eq!(made.solid.shells().len(), 4);
        let before = |k: usize| made.solid.shells()[..k].iter().map(|shell| shell.triangles);
        let number = |k: usize| u32::try_from(before(k).sum::<usize>()).unwrap();
        assert_eq!(made.part(number(0)), FemurPart::Shaft);
        assert_eq!(made.part(number(1) - 1), FemurPart::Shaft);
        assert_eq!(made.part(number(1)), FemurPart::Neck);
        assert_eq!(made.part(number(4) - 1), FemurPart::LesserTrochanter);
    }

    #[test]
    fn the_trochanter_is_as_high_as_asked_and_lies_lateral() {
        for below in [-4.0, 3.0, 12.0] {
            let made = femur_solid(&femur(|f| f.trochanter_below_mm = below), AROUND).unwrap();
            let top = made.solid.mesh().vertices().iter().map(|p| p.z);
            let top = top.fold(f64::NEG_INFINITY, f64::max);
            assert!((top + below).abs() < 0.1, "{top}");
        }
        let made = femur_solid(&femur(|_| ()), AROUND).unwrap();
        let bounds = made.solid.mesh().bounds().unwrap();
        assert!(bounds.max.x > 60.0 && bounds.max.x < 75.0, "{bounds:?}");
        let mirrored = made.mirrored().unwrap().solid.mesh().bounds().unwrap();
        assert!((mirrored.min.x + bounds.max.x).abs() < 1e-12);
    }
}
