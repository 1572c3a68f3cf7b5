//! The bone a case works on: a solid, its side, its frame and its native socket.

use std::path::Path;
use std::sync::Arc;

use cupwright_anatomy::synthetic::{self, BadShape, Resolution, Shape};
use cupwright_anatomy::{
    BadLandmarks, Landmarks, NoSocket, PelvicFrame, Reference, Side, Tilt, find_socket,
};
use cupwright_geometry::{Defect, Solid, TriMesh};
use cupwright_io::ReadMeshError;
use nalgebra::{Isometry3, Point3, Translation3, UnitVector3, Vector3};
use thiserror::Error;

use crate::case::{BoneEntry, Case, FARTHEST, LARGEST_DIAMETER};
use crate::findings::Shift;
use crate::piece::NoPiece;
use crate::reading::Reading;
use crate::unit::Unit;

/// A bone ready to be worked on. A copy shares its solids and costs next to nothing.
#[derive(Clone, Debug)]
pub struct Bone {
    /// The bone in its own coordinates.
    pub solid: Arc<Solid>,
    /// Where it came from, for the reader.
    pub source: String,
    /// Which hip.
    pub side: Side,
    /// Landmarks in the bone's own coordinates, where they are known.
    pub landmarks: Option<Landmarks>,
    /// From the bone's own coordinates to the pelvic frame.
    pub to_pelvic: Isometry3<f64>,
    /// Native hip centre, in the bone's own coordinates.
    pub native_centre: Point3<f64>,
    /// Radius of the native socket, in mm.
    pub native_radius: f64,
    /// What the bone is made of, where a model says so.
    pub layers: Option<Arc<Layers>>,
}

/// The borders between the layers of a bone, in its own coordinates: model assumptions.
#[derive(Clone, Debug)]
pub struct Layers {
    /// The bone without its subchondral plate.
    pub beneath_subchondral: Solid,
    /// The same without its cortical shell.
    pub cancellous: Solid,
}

/// A mesh that cannot be worked on, and what to do.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum Unusable {
    /// It does not enclose bone.
    #[error("{0}")]
    Defect(#[from] Defect),
    /// Several bones.
    #[error(
        "the mesh holds {count} separate bones (of {} triangles); keep the one to work on in a file of its own",
        listed(triangles)
    )]
    SeveralBones {
        /// How many.
        count: usize,
        /// Triangles of each, the largest first.
        triangles: Vec<usize>,
    },
    /// Too small for the tools: not in mm.
    #[error(
        "the bone is only {extent_mm:.3} mm across, smaller than a tool of {tool_mm} mm: it looks like {unit}, not mm; \
         scale it by {}",
        unit.millimetres()
    )]
    Unit {
        /// Its longest edge.
        extent_mm: f64,
        /// The largest tool.
        tool_mm: f64,
        /// The unit it seems to be in.
        unit: Unit,
    },
    /// So large or so far off that numbers lose their digits.
    #[error(
        "the bone reaches {reach_mm:e} mm from the origin of its file, more than a kilometre; \
         check the unit, or move it nearer"
    )]
    TooFar {
        /// The largest coordinate.
        reach_mm: f64,
    },
}

/// Why the bone of a case could not be had.
#[derive(Debug, Error)]
pub enum NoBone {
    /// The file cannot be read as a mesh.
    #[error(transparent)]
    Read(#[from] ReadMeshError),
    /// The file is a volume of several labels.
    #[error("{0}, as in bone: File(path: ..., label: 1, ...)")]
    Unlabelled(ReadMeshError),
    /// The mesh cannot be worked on.
    #[error("{file}: {problem}{}", way_out(problem))]
    Unusable {
        /// The file.
        file: String,
        /// What is wrong.
        problem: Unusable,
    },
    /// The piece that the case names is not in the mesh.
    #[error("{file}: bone.piece: {problem}; cupwright inspect tells its pieces")]
    Piece {
        /// The file.
        file: String,
        /// What is wrong.
        problem: NoPiece,
    },
    /// No socket in it, and the case does not say where it is.
    #[error("{file}: {problem}; or give hip_centre_mm and socket_diameter_mm in the case")]
    NoSocket {
        /// The file.
        file: String,
        /// Why not.
        problem: NoSocket,
    },
    /// The landmarks make no frame.
    #[error("landmarks: {0}")]
    Landmarks(#[from] BadLandmarks),
    /// The frame needs landmarks that the case does not give.
    #[error(
        "the reference plane Isb is found from landmarks; give axes: Landmarks(...) in the case"
    )]
    AxesWithoutLandmarks,
    /// The synthetic pelvis refuses its numbers.
    #[error("preset: {0}")]
    Preset(#[from] BadShape),
    /// A socket diameter that cannot be.
    #[error("bone.socket_diameter_mm is {0}; it must be more than 0 and at most 200 mm")]
    SocketDiameter(f64),
    /// A hip centre that is not a place.
    #[error("bone.hip_centre_mm has a coordinate that is not a number of at most 1000000 mm")]
    HipCentre,
}

/// What a case can say to make a mesh usable.
fn way_out(problem: &Unusable) -> String {
    match problem {
        Unusable::Unit { unit, .. } => {
            format!(", or give unit: {unit:?} in the case (unit: Millimetres takes it as it is)")
        }
        Unusable::SeveralBones { .. } => {
            ", or give piece: WithSocket, Largest or Number(2) in the \
             case; cupwright inspect tells its pieces"
                .into()
        }
        _ => String::new(),
    }
}

impl NoBone {
    /// A file that is read without saying which label.
    fn unlabelled(problem: ReadMeshError) -> Self {
        if problem.labels().is_some() {
            Self::Unlabelled(problem)
        } else {
            problem.into()
        }
    }
}

impl Bone {
    /// The bone of a case; `folder` is the one that the case's paths are relative to.
    ///
    /// # Errors
    /// When the file cannot be read or worked on, or the landmarks, the preset or the socket make
    /// no sense; each names what and where.
    pub fn of_case(case: &Case, folder: &Path) -> Result<Self, NoBone> {
        match &case.bone {
            BoneEntry::Preset {
                name,
                overrides,
                layers,
                ..
            } => {
                let mut shape = Shape::preset(name)?;
                overrides
                    .iter()
                    .try_for_each(|(name, &value)| shape.set(name, value))?;
                let bone = Self::synthetic(&shape, name, case)?;
                if *layers {
                    bone.layered(&shape)
                } else {
                    Ok(bone)
                }
            }
            BoneEntry::File { path, .. } => Self::from_file(&folder.join(path), case),
        }
    }

    /// The synthetic pelvis as a bone.
    ///
    /// # Errors
    /// When the shape's numbers give no bone, or the frame cannot be had from its landmarks.
    pub fn synthetic(shape: &Shape, name: &str, case: &Case) -> Result<Self, NoBone> {
        let source = format!("synthetic preset {name}");
        let pelvis = synthetic::pelvis(shape, case.side, Resolution::default())?;
        let frame = frame(Some(&pelvis.landmarks), case.reference, case.tilt)?;
        let unusable = |problem: Defect| NoBone::Unusable {
            file: source.clone(),
            problem: problem.into(),
        };
        Ok(Self {
            solid: Arc::new(Solid::try_from(pelvis.mesh).map_err(unusable)?),
            side: case.side,
            landmarks: Some(pelvis.landmarks),
            to_pelvic: frame,
            native_centre: pelvis.socket.centre,
            native_radius: pelvis.socket.radius,
            layers: None,
            source,
        })
    }

    /// The same bone with the layers that its model assumes.
    fn layered(self, shape: &Shape) -> Result<Self, NoBone> {
        let made = synthetic::layers(shape, self.side, Resolution::default())?;
        let unusable = |problem: Defect| NoBone::Unusable {
            file: format!("the layers of {}", self.source),
            problem: problem.into(),
        };
        let layers = Layers {
            beneath_subchondral: Solid::try_from(made.beneath_subchondral).map_err(unusable)?,
            cancellous: Solid::try_from(made.cancellous).map_err(unusable)?,
        };
        Ok(Self {
            layers: Some(Arc::new(layers)),
            ..self
        })
    }

    fn from_file(path: &Path, case: &Case) -> Result<Self, NoBone> {
        let BoneEntry::File {
            axes,
            hip_centre_mm,
            socket_diameter_mm,
            ..
        } = &case.bone
        else {
            return Err(NoBone::AxesWithoutLandmarks);
        };
        let reading = case.bone.reading();
        let file = path.display().to_string();
        let landmarks = axes.landmarks();
        let to_pelvic = frame(landmarks.as_ref(), case.reference, case.tilt)?;
        let largest = case
            .reamers
            .iter()
            .map(|r| r.diameter)
            .fold(case.cup.diameter, f64::max);
        let solid = Self::solid_in(path, &reading, largest)?;
        let centre_given = hip_centre_mm.map(|place| reading.place(place));
        let given = centre_given.zip(socket_diameter_mm.map(|d| d / 2.0));
        let (native_centre, native_radius) = match given {
            Some(given) => given,
            None => {
                let no_socket = |problem| NoBone::NoSocket {
                    file: file.clone(),
                    problem,
                };
                let found = find_socket(solid.mesh()).map_err(no_socket)?;
                let radius = socket_diameter_mm.map_or(found.radius, |d| d / 2.0);
                (centre_given.unwrap_or(found.centre), radius)
            }
        };
        if !(native_radius > 0.0 && native_radius <= LARGEST_DIAMETER / 2.0) {
            return Err(NoBone::SocketDiameter(2.0 * native_radius));
        }
        if !native_centre.iter().all(|c| c.abs() <= FARTHEST) {
            return Err(NoBone::HipCentre);
        }
        Ok(Self {
            solid: Arc::new(solid),
            source: file,
            side: case.side,
            landmarks,
            to_pelvic,
            native_centre,
            native_radius,
            layers: None,
        })
    }

    /// The piece of the file at `path` that is meant, as one bone.
    fn solid_in(path: &Path, reading: &Reading, largest_tool: f64) -> Result<Solid, NoBone> {
        let file = || path.display().to_string();
        let loaded = reading.read(path).map_err(NoBone::unlabelled)?;
        let chosen = reading.chosen(loaded.mesh);
        let mesh = chosen.map_err(|problem| NoBone::Piece {
            file: file(),
            problem,
        })?;
        let accepted = reading.accept(mesh, largest_tool);
        accepted.map_err(|problem| NoBone::Unusable {
            file: file(),
            problem,
        })
    }

    /// The same bone, its solids shared, in the frame that a case asks for: its reference plane and
    /// its tilt, of which nothing else is read.
    ///
    /// Equals the bone made anew from that case, where that names the same bone and landmarks.
    ///
    /// # Errors
    /// When the reference plane cannot be had from the bone's landmarks, or it has none.
    pub fn in_frame_of(&self, case: &Case) -> Result<Self, NoBone> {
        let to_pelvic = frame(self.landmarks.as_ref(), case.reference, case.tilt)?;
        Ok(Self {
            to_pelvic,
            ..self.clone()
        })
    }

    /// A displacement as a vector of the bone's own coordinates.
    pub fn vector(&self, shift: Shift) -> Vector3<f64> {
        let medial = -self.side.sign() * shift.medial_mm;
        self.to_pelvic.rotation.inverse()
            * Vector3::new(medial, shift.anterior_mm, shift.superior_mm)
    }

    /// A vector of the bone's own coordinates as a displacement.
    pub fn shift(&self, vector: &Vector3<f64>) -> Shift {
        let v = self.to_pelvic.rotation * vector;
        Shift {
            medial_mm: -self.side.sign() * v.x,
            superior_mm: v.z,
            anterior_mm: v.y,
        }
    }

    /// A direction of the pelvic frame in the bone's own coordinates.
    pub fn direction(&self, pelvic: &UnitVector3<f64>) -> UnitVector3<f64> {
        self.to_pelvic.rotation.inverse() * pelvic
    }
}

/// The way from a bone's own coordinates into the pelvic frame.
fn frame(
    landmarks: Option<&Landmarks>,
    reference: Reference,
    tilt: Tilt,
) -> Result<Isometry3<f64>, NoBone> {
    let Some(landmarks) = landmarks else {
        let turned = Isometry3::from_parts(Translation3::identity(), tilt.rotation());
        return if reference == Reference::AnteriorPelvicPlane {
            Ok(turned)
        } else {
            Err(NoBone::AxesWithoutLandmarks)
        };
    };
    let frame = match reference {
        Reference::AnteriorPelvicPlane => PelvicFrame::anterior_pelvic_plane(landmarks)?,
        Reference::Isb => PelvicFrame::isb(landmarks)?,
    };
    Ok(frame.tilted(tilt).to_pelvic())
}

/// A mesh as one bone in mm, fit for tools up to `largest_tool` mm in diameter.
///
/// # Errors
/// When it does not enclose bone, holds several bones, is too small to be in mm, or reaches farther
/// than [`FARTHEST`].
pub fn accept(mesh: TriMesh, largest_tool: f64) -> Result<Solid, Unusable> {
    let extent_mm = mesh.bounds().map_or(0.0, |b| b.extent().amax());
    let unit = Unit::likely(extent_mm);
    if extent_mm < largest_tool && unit != Unit::Millimetres {
        return Err(Unusable::Unit {
            extent_mm,
            tool_mm: largest_tool,
            unit,
        });
    }
    accept_as_it_is(mesh)
}

/// A mesh as one bone, whatever its size suggests about its unit.
///
/// # Errors
/// When it does not enclose bone, holds several bones, or reaches farther than [`FARTHEST`].
pub fn accept_as_it_is(mesh: TriMesh) -> Result<Solid, Unusable> {
    within_reach(&mesh)?;
    let solid = Solid::try_from(mesh)?;
    let mut triangles: Vec<_> = solid.outer_shells().map(|shell| shell.triangles).collect();
    if triangles.len() > 1 {
        triangles.sort_unstable_by(|a, b| b.cmp(a));
        return Err(Unusable::SeveralBones {
            count: triangles.len(),
            triangles,
        });
    }
    Ok(solid)
}

/// Whether numbers can tell what is near what in a mesh.
///
/// # Errors
/// When it reaches farther than [`FARTHEST`] from the origin.
pub fn within_reach(mesh: &TriMesh) -> Result<(), Unusable> {
    let coordinates = mesh.vertices().iter().map(|p| p.coords.amax());
    let reach_mm = coordinates.fold(0.0, f64::max);
    if reach_mm > FARTHEST {
        return Err(Unusable::TooFar { reach_mm });
    }
    Ok(())
}

fn listed(counts: &[usize]) -> String {
    let shown: Vec<_> = counts.iter().take(5).map(usize::to_string).collect();
    let more = if counts.len() > 5 { ", …" } else { "" };
    format!("{}{more}", shown.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    #[test]
    fn a_bone_in_metres_is_refused_by_its_size() {
        let mesh = samples::lumpy_ball(0.1, 0.2, 20, 10);
        let refused = accept(mesh, 50.0).unwrap_err();
        assert!(matches!(
            refused,
            Unusable::Unit {
                unit: Unit::Metres,
                ..
            }
        ));
        assert!(refused.to_string().ends_with("scale it by 1000"));
    }

    #[test]
    fn a_small_solid_is_a_solid_as_long_as_the_tools_are_smaller() {
        assert!(accept(samples::cuboid([20.0; 3]), 10.0).is_ok());
        assert!(accept_as_it_is(samples::cuboid([20.0; 3])).is_ok());
        assert!(accept(samples::cuboid([20.0; 3]), 30.0).is_err());
    }

    #[test]
    fn a_bone_a_kilometre_off_is_refused() {
        let cube = samples::cuboid([20.0; 3]);
        let far = |shift| cube.moved(&Isometry3::translation(0.0, shift, 0.0));
        assert!(accept(far(-999_990.0), 10.0).is_ok());
        assert_eq!(
            accept(far(-1e9), 10.0).unwrap_err().to_string(),
            "the bone reaches 1.00000001e9 mm from the origin of its file, more than a kilometre; \
             check the unit, or move it nearer"
        );
    }

    #[test]
    fn two_bones_are_refused_and_a_cavity_is_not() {
        let one = samples::sphere(50.0, 2);
        let two = one.joined(&one.moved(&Isometry3::translation(200.0, 0.0, 0.0)));
        let refused = accept(two, 50.0).unwrap_err();
        assert_eq!(
            refused,
            Unusable::SeveralBones {
                count: 2,
                triangles: vec![128, 128]
            }
        );
        assert!(accept(one.joined(&one.scaled(0.5).reversed()), 50.0).is_ok());
    }
    /// The coarse pelvis, of another size than the default one so that no number is in it by chance.
    fn case(reference: &str, tilt_deg: f64) -> Case {
        let text = format!(
            "(version: 1, bone: Preset(name: \"small\", side: Left), orientation: Radiographic, \
             reference: {reference}, posterior_tilt_deg: {tilt_deg}, reamers: [(diameter_mm: 45)], \
             cup: (diameter_mm: 46, inclination_deg: 40, anteversion_deg: 15))"
        );
        crate::CaseFile::parse(&text).unwrap().check().unwrap()
    }

    #[test]
    fn a_bone_in_another_frame_is_the_bone_made_in_it() {
        let made = |case: &Case| Bone::of_case(case, Path::new("")).unwrap();
        let bone = made(&case("AnteriorPelvicPlane", 0.0));
        let other = case("Isb", 7.5);
        let (turned, anew) = (bone.in_frame_of(&other).unwrap(), made(&other));
        assert!(Arc::ptr_eq(&turned.solid, &bone.solid));
        assert_eq!(turned.solid.mesh(), anew.solid.mesh());
        assert_eq!(turned.to_pelvic, anew.to_pelvic);
        assert_ne!(turned.to_pelvic, bone.to_pelvic);
        assert_eq!(turned.native_centre, anew.native_centre);
        let back = turned
            .in_frame_of(&case("AnteriorPelvicPlane", 0.0))
            .unwrap();
        assert_eq!(back.to_pelvic, bone.to_pelvic);
    }

    #[test]
    fn a_bone_without_landmarks_has_one_plane_only() {
        let pelvis = Bone {
            solid: Arc::new(Solid::try_from(samples::cuboid([50.0; 3])).unwrap()),
            source: "cube".into(),
            side: Side::Left,
            landmarks: None,
            to_pelvic: Isometry3::identity(),
            native_centre: Point3::origin(),
            native_radius: 20.0,
            layers: None,
        };
        let tilted = pelvis
            .in_frame_of(&case("AnteriorPelvicPlane", 10.0))
            .unwrap();
        let tilt = Tilt::posterior(10.0_f64.to_radians()).unwrap();
        assert_eq!(tilted.to_pelvic.rotation, tilt.rotation());
        let refused = pelvis.in_frame_of(&case("Isb", 0.0));
        assert!(matches!(refused, Err(NoBone::AxesWithoutLandmarks)));
    }
}
