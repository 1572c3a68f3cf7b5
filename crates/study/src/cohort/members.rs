//! Who belongs to a cohort, in which order, and the bone of each.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};

use cupwright_anatomy::synthetic::{self, Resolution};
use cupwright_anatomy::{Both, Landmarks, Side, find_socket};
use cupwright_geometry::Solid;
use cupwright_io::{Content, Format, read_from};
use cupwright_procedure::Bone;
use cupwright_procedure::bone::accept;
use hmac_sha256::Hash;
use nalgebra::{Isometry3, Point3};
use rayon::prelude::*;
use serde::Deserialize;
use serde_json::{Value, json};
use thiserror::Error;

use super::sample::{self, DRAWN, RELATIONS, VARIED, sampled};
use super::table::{Cell, Column};

/// The members of a cohort, in their order.
#[derive(Clone, Debug, PartialEq)]
pub enum Members {
    /// A bone file each, in the order of their names.
    Bones(Vec<BoneFile>),
    /// Drawn from published means and deviations.
    Sampled {
        /// How many.
        count: usize,
        /// The seed.
        seed: u64,
        /// How finely each bone is cut into triangles.
        resolution: Resolution,
    },
}

/// A bone file of a folder.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct BoneFile {
    /// Where it is.
    pub path: PathBuf,
    /// Its name in the folder.
    pub name: String,
    /// Landmarks beside it, in a file that `cupwright pelvis` would have written.
    pub landmarks: Option<PathBuf>,
}

/// Why the bones of a folder cannot be had.
#[derive(Debug, Error)]
pub enum NoBones {
    /// The folder cannot be listed.
    #[error("{}: cannot be listed ({cause}); name a folder of bones", folder.display())]
    Unlisted {
        /// The folder.
        folder: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
    /// No mesh in it.
    #[error("{}: there is no .stl, .obj or .ply file in this folder", .0.display())]
    None(PathBuf),
    /// No mesh in it, but a file that a case takes.
    #[error(
        "{}: there is no .stl, .obj or .ply file in this folder, and a cohort takes nothing else; \
         name {other} in a case, or put a mesh of it into the folder",
        folder.display()
    )]
    NoMeshes {
        /// The folder.
        folder: PathBuf,
        /// A label volume or a DICOM object in it.
        other: String,
    },
}

/// A bone file is not what it was when the cohort was begun.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{file}: this bone has changed since the cohort was begun; begin anew in another folder")]
pub struct Changed {
    /// The file.
    pub file: String,
}

/// A member before its plan.
#[derive(Debug)]
pub(super) struct Member {
    /// Its cells for [`Members::columns`].
    pub(super) cells: Vec<Cell>,
    /// Its bone in its own coordinates, or why there is none.
    pub(super) bone: Result<Bone, String>,
}

impl Members {
    /// The mesh files of a folder, by name; folders in it are not entered.
    ///
    /// # Errors
    /// When the folder cannot be listed or holds no mesh file.
    pub fn in_folder(folder: &Path) -> Result<Self, NoBones> {
        let unlisted = |cause| NoBones::Unlisted {
            folder: folder.into(),
            cause,
        };
        let (mut bones, mut others) = (Vec::new(), Vec::new());
        for entry in fs::read_dir(folder).map_err(unlisted)? {
            let path = entry.map_err(unlisted)?.path();
            if !Content::may_be_in(&path) || !path.is_file() {
                continue;
            }
            let name = path.file_name().unwrap_or_default();
            let name = name.to_string_lossy().into_owned();
            if Format::for_path(&path).is_err() {
                others.push(name);
                continue;
            }
            let beside = path.with_extension("landmarks.ron");
            bones.push(BoneFile {
                name,
                landmarks: beside.is_file().then_some(beside),
                path,
            });
        }
        if bones.is_empty() {
            let folder = folder.into();
            return Err(match others.into_iter().min() {
                None => NoBones::None(folder),
                Some(other) => NoBones::NoMeshes { folder, other },
            });
        }
        bones.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(Self::Bones(bones))
    }

    /// How many.
    pub fn count(&self) -> usize {
        match self {
            Self::Bones(bones) => bones.len(),
            Self::Sampled { count, .. } => *count,
        }
    }

    /// What there is to know of them before any bone is made, for the manifest: everything that their
    /// rows depend on. Of bone files those of `share` are read to their end, the others only named.
    pub(super) fn described(&self, share: Range<usize>) -> Value {
        match self {
            Self::Bones(bones) => {
                let entry = |(index, bone): (usize, &BoneFile)| {
                    let read = share.contains(&index);
                    let digest = |path: &PathBuf| read.then(|| digest_of(path)).flatten();
                    json!({
                        "file": bone.name,
                        "sha256": digest(&bone.path),
                        "landmarks_sha256": bone.landmarks.as_ref().map(digest),
                    })
                };
                let entries: Vec<Value> = bones.par_iter().enumerate().map(entry).collect();
                json!({ "bones": entries })
            }
            Self::Sampled {
                seed, resolution, ..
            } => json!({
                "sampled": {
                    "seed": seed,
                    "generator": "ChaCha8, the key beginning with the seed, one stream for each member",
                    "resolution": name_of(*resolution),
                    "drawn": DRAWN,
                    "relations": BTreeMap::from(RELATIONS),
                }
            }),
        }
    }

    /// The columns that say who a member is.
    pub(super) fn columns(&self) -> Vec<Column> {
        let mut columns = vec![Column::text("source"), Column::text("side")];
        if matches!(self, Self::Sampled { .. }) {
            columns.push(Column::text("preset"));
            columns.extend(VARIED.map(|name| Column::number(format!("pelvis_{name}"))));
            columns.push(Column::number("pelvis_rim_shift_deg"));
            columns.push(Column::count("pelvis_clipped"));
        }
        columns
    }

    /// The member `index`, counted from 0; its tools are at most `largest_tool` mm across.
    ///
    /// # Errors
    /// When its file is not the one whose digest is `known`.
    pub(super) fn member(
        &self,
        index: usize,
        known: &Value,
        largest_tool: f64,
    ) -> Result<Member, Changed> {
        match self {
            Self::Bones(bones) => match bones.get(index) {
                Some(bone) => of_file(bone, &known["bones"][index], largest_tool),
                None => Err(Changed {
                    file: format!("member {}", index + 1),
                }),
            },
            Self::Sampled {
                seed, resolution, ..
            } => Ok(of_sample(*seed, index, *resolution)),
        }
    }
}

/// How a resolution is told.
fn name_of(resolution: Resolution) -> &'static str {
    match resolution {
        Resolution::Coarse => "coarse",
        Resolution::Middle => "middle",
        Resolution::Fine => "fine",
    }
}

fn of_sample(seed: u64, index: usize, resolution: Resolution) -> Member {
    let drawn = match sampled(seed, index as u64) {
        Ok(drawn) => drawn,
        Err(problem) => {
            return Member {
                cells: vec![Cell::text("sampled")],
                bone: Err(problem.to_string()),
            };
        }
    };
    let mut cells = vec![
        Cell::text("sampled"),
        Cell::text(&drawn.side.to_string()),
        Cell::text(drawn.preset.name()),
    ];
    let values = synthetic::PARAMETERS.iter().zip(drawn.shape.values());
    let values: BTreeMap<_, _> = values.map(|(p, value)| (p.name, value)).collect();
    let varied = VARIED.map(|name| Cell::number_or_empty(values.get(name).copied()));
    cells.extend(varied);
    cells.push(Cell::number(drawn.rim_deg));
    cells.push(Cell::count(drawn.clipped));
    Member {
        cells,
        bone: synthetic_bone(&drawn, resolution),
    }
}

fn synthetic_bone(drawn: &sample::Sampled, resolution: Resolution) -> Result<Bone, String> {
    let pelvis = synthetic::pelvis(&drawn.shape, drawn.side, resolution)
        .map_err(|problem| problem.to_string())?;
    let solid = Solid::try_from(pelvis.mesh).map_err(|problem| problem.to_string())?;
    Ok(Bone {
        solid: solid.into(),
        source: "sampled".into(),
        side: pelvis.side,
        landmarks: Some(pelvis.landmarks),
        to_pelvic: Isometry3::identity(),
        native_centre: pelvis.socket.centre,
        native_radius: pelvis.socket.radius,
        layers: None,
    })
}

fn of_file(file: &BoneFile, known: &Value, largest_tool: f64) -> Result<Member, Changed> {
    let changed = || Changed {
        file: file.path.display().to_string(),
    };
    let same = |content: &io::Result<Vec<u8>>, digest: &Value| {
        let found = content.as_ref().ok().map(|bytes| hexadecimal(bytes));
        found.as_deref() == digest.as_str()
    };
    let content = fs::read(&file.path);
    let landmarks = file.landmarks.as_ref().map(fs::read);
    let beside = landmarks.as_ref();
    if !same(&content, &known["sha256"])
        || !beside.is_none_or(|content| same(content, &known["landmarks_sha256"]))
    {
        return Err(changed());
    }
    let bone = file_bone(file, content, landmarks, largest_tool);
    let side = bone
        .as_ref()
        .map_or(Cell::Empty, |bone| Cell::text(&bone.side.to_string()));
    Ok(Member {
        cells: vec![Cell::text(&file.name), side],
        bone,
    })
}

fn file_bone(
    file: &BoneFile,
    content: io::Result<Vec<u8>>,
    landmarks: Option<io::Result<Vec<u8>>>,
    largest_tool: f64,
) -> Result<Bone, String> {
    let told = |problem: &dyn std::fmt::Display| problem.to_string();
    let beside = landmarks.map(|content| known_places(&content.map_err(|e| told(&e))?));
    let known = beside.transpose()?;
    let content = content.map_err(|cause| format!("cannot be opened ({cause})"))?;
    let extension = file.path.extension().and_then(|ending| ending.to_str());
    let loaded = read_from(content.as_slice(), content.len() as u64, extension)
        .map_err(|problem| told(&problem))?;
    drop(content);
    let solid = accept(loaded.mesh, largest_tool).map_err(|problem| told(&problem))?;
    let found = find_socket(solid.mesh());
    let shape_says = found.as_ref().ok().and_then(|socket| socket.side);
    let (landmarks, made) = known.unwrap_or_default();
    let (native_centre, native_radius) = match (made, found) {
        (Some(made), _) => made,
        (None, Ok(socket)) => (socket.centre, socket.radius),
        (None, Err(problem)) => return Err(problem.to_string()),
    };
    let side = side(landmarks.as_ref(), &native_centre, shape_says)?;
    Ok(Bone {
        solid: solid.into(),
        source: file.name.clone(),
        side,
        landmarks,
        to_pelvic: Isometry3::identity(),
        native_centre,
        native_radius,
        layers: None,
    })
}

/// Which hip, by where the socket lies and by its shape.
fn side(
    landmarks: Option<&Landmarks>,
    centre: &Point3<f64>,
    shape_says: Option<Side>,
) -> Result<Side, String> {
    // Along the line through the ASIS where they are known, else along the file's x.
    let lateral = landmarks.map_or(centre.x, |marks| {
        (marks.asis.right - marks.asis.left).dot(&(centre - marks.mid_asis()))
    });
    let lies = if lateral > 0.0 {
        Side::Right
    } else {
        Side::Left
    };
    if shape_says.is_some_and(|side| side != lies) {
        let axes = if landmarks.is_some() {
            "by its landmarks"
        } else {
            "by its axes (without landmarks beside it x must point to the patient's right, y forward, z up)"
        };
        return Err(format!(
            "the bone is a {} one by its shape and a {lies} one {axes}",
            lies.other()
        ));
    }
    Ok(lies)
}

/// A file of landmarks as `cupwright pelvis` writes it; what else it holds is passed over.
#[derive(Deserialize)]
#[serde(rename = "Landmarks")]
struct LandmarksFile {
    version: u32,
    points: BTreeMap<String, (f64, f64, f64)>,
    #[serde(default)]
    socket_diameter_mm: Option<f64>,
}

/// Landmarks, and centre and radius of the socket.
type Known = (Option<Landmarks>, Option<(Point3<f64>, f64)>);

fn known_places(content: &[u8]) -> Result<Known, String> {
    let bad = |problem: &dyn std::fmt::Display| format!("the landmarks beside it: {problem}");
    let text = std::str::from_utf8(content).map_err(|problem| bad(&problem))?;
    let extensions = ron::extensions::Extensions::IMPLICIT_SOME;
    let options = ron::Options::default().with_default_extension(extensions);
    let file: LandmarksFile = options.from_str(text).map_err(|problem| bad(&problem))?;
    if file.version != 1 {
        return Err(bad(&format!(
            "version is {}, this program reads 1",
            file.version
        )));
    }
    let point = |name: &str| file.points.get(name).map(|&(x, y, z)| Point3::new(x, y, z));
    let needed = |name: &str| point(name).ok_or_else(|| bad(&format!("{name} is missing")));
    let both = |name: &str| {
        Ok::<_, String>(Both {
            right: needed(&format!("{name}_right"))?,
            left: needed(&format!("{name}_left"))?,
        })
    };
    let psis = point("psis_right").zip(point("psis_left"));
    let landmarks = Landmarks {
        asis: both("asis")?,
        pubic_tubercle: both("pubic_tubercle")?,
        psis: psis.map(|(right, left)| Both { right, left }),
    };
    let radius = file.socket_diameter_mm.map(|diameter| 0.5 * diameter);
    let socket = point("hip_centre").zip(radius.filter(|radius| *radius > 0.0));
    Ok((Some(landmarks), socket))
}

/// The digest of a file's content; nothing where it cannot be read.
fn digest_of(path: &PathBuf) -> Option<String> {
    fs::read(path).ok().map(|content| hexadecimal(&content))
}

/// SHA-256 in hexadecimal, as other programs print it.
fn hexadecimal(content: &[u8]) -> String {
    let digest = Hash::hash(content);
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}
