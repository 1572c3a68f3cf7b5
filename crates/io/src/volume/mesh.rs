//! The surface of one label as a mesh.

use cupwright_geometry::voxels::{BadVoxels, Surface, Voxels, surface};
use cupwright_geometry::{Bounds, TriMesh, topology};
use thiserror::Error;

use super::{LabelCount, LabelVolume};

/// Pieces that enclose less than this share of the largest are crumbs of the segmentation.
const CRUMB: f64 = 0.01;

/// Voxels of one label as a closed mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelMesh {
    /// The surface, in mm, x toward the patient's right, y anterior, z superior.
    pub mesh: TriMesh,
    /// The label, and how many voxels have it.
    pub taken: LabelCount,
    /// The other labels in the volume.
    pub others: Vec<LabelCount>,
    /// Voxels that were added because the surface would have met itself along an edge.
    pub added: usize,
    /// Pieces left out because they are smaller than a hundredth of the largest.
    pub crumbs: usize,
    /// Whether the label reaches the border of the volume, where the surface is flat.
    pub reaches_border: bool,
}

/// Why a label gets no mesh.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoLabel {
    /// All voxels are background.
    #[error("the volume holds no label but 0, the background; export the labels again")]
    Blank,
    /// Several, of which none was chosen.
    #[error("the volume holds {} labels: {}; choose one", .0.len(), listed(.0))]
    Several(Vec<LabelCount>),
    /// One that is not in the volume.
    #[error("the volume holds no label {label}; it holds {}", listed(held))]
    Absent {
        /// The label.
        label: i32,
        /// Those that are.
        held: Vec<LabelCount>,
    },
    /// The voxels get no surface.
    #[error("label {label}: {problem}")]
    Voxels {
        /// The label.
        label: i32,
        /// What is wrong.
        problem: BadVoxels,
    },
}

/// The first labels of a list, as an error tells them.
pub(crate) fn listed(labels: &[LabelCount]) -> String {
    const SHOWN: usize = 8;
    let shown: Vec<_> = labels.iter().take(SHOWN).map(ToString::to_string).collect();
    let more = labels.len().saturating_sub(SHOWN);
    let more = if more > 0 {
        format!(" and {more} more")
    } else {
        String::new()
    };
    format!("{}{more}", shown.join(", "))
}

/// The surface of one label: of `wanted`, or of the only one there is.
///
/// # Errors
/// When there is no such label, or there are several and none is wanted, or its voxels get no surface.
pub fn mesh_of(volume: &LabelVolume, wanted: Option<i32>) -> Result<LabelMesh, NoLabel> {
    let (taken, others) = chosen(volume.labels(), wanted)?;
    let unfit = |problem| NoLabel::Voxels {
        label: taken.label,
        problem,
    };
    let (low, high) = bounds(volume, taken.label);
    let voxels = voxels(volume, taken.label, low, high).map_err(unfit)?;
    let made = surface(voxels, &volume.grid.counted_from(low));
    let Surface { mesh, added } = made.map_err(unfit)?;
    let (mesh, crumbs) = without_crumbs(mesh).map_err(unfit)?;
    let reaches_border = (0..3).any(|k| low[k] == 0 || high[k] + 1 == volume.size[k]);
    Ok(LabelMesh {
        mesh,
        taken,
        others,
        added,
        crumbs,
        reaches_border,
    })
}

fn chosen(
    mut held: Vec<LabelCount>,
    wanted: Option<i32>,
) -> Result<(LabelCount, Vec<LabelCount>), NoLabel> {
    let place = match (wanted, held.len()) {
        (_, 0) => return Err(NoLabel::Blank),
        (None, 1) => 0,
        (None, _) => return Err(NoLabel::Several(held)),
        (Some(label), _) => match held.iter().position(|count| count.label == label) {
            Some(place) => place,
            None => return Err(NoLabel::Absent { label, held }),
        },
    };
    let taken = held.remove(place);
    Ok((taken, held))
}

impl LabelVolume {
    /// The voxels of a label row by row: where each stretch begins, and its length.
    fn stretches(&self, label: i32) -> impl Iterator<Item = ([usize; 3], usize)> + '_ {
        let [nx, ny, _] = self.size;
        let mut start = 0;
        let runs = self.runs.iter().filter_map(move |run| {
            let from = std::mem::replace(&mut start, run.end as usize);
            (run.label == label).then_some((from, run.end as usize))
        });
        runs.flat_map(move |(mut from, end)| {
            std::iter::from_fn(move || {
                let (row, i) = (from / nx, from % nx);
                let length = (nx - i).min(end - from);
                from += length;
                (length > 0).then_some(([i, row % ny, row / ny], length))
            })
        })
    }
}

/// The first and last voxel of the box around a label.
fn bounds(volume: &LabelVolume, label: i32) -> ([usize; 3], [usize; 3]) {
    let none = ([usize::MAX; 3], [0; 3]);
    volume
        .stretches(label)
        .fold(none, |(low, high), (first, length)| {
            let [i, j, k] = first;
            let last = [i + length - 1, j, k];
            (
                [0, 1, 2].map(|n| low[n].min(first[n])),
                [0, 1, 2].map(|n| high[n].max(last[n])),
            )
        })
}

fn voxels(
    volume: &LabelVolume,
    label: i32,
    low: [usize; 3],
    high: [usize; 3],
) -> Result<Voxels, BadVoxels> {
    let mut voxels = Voxels::none([0, 1, 2].map(|n| high[n] + 1 - low[n]))?;
    for (first, length) in volume.stretches(label) {
        voxels.add_run([0, 1, 2].map(|n| first[n] - low[n]), length);
    }
    Ok(voxels)
}

/// The mesh without pieces that enclose too little, and how many those are. A hollow stays, unless it is
/// one of a crumb.
fn without_crumbs(mesh: TriMesh) -> Result<(TriMesh, usize), BadVoxels> {
    let shells = topology::shells(mesh.triangles());
    if shells.count == 1 {
        return Ok((mesh, 0));
    }
    let mut of_shell = vec![Vec::new(); shells.count];
    for (triangle, &shell) in mesh.triangles().iter().zip(&shells.of_triangle) {
        of_shell[shell as usize].push(*triangle);
    }
    let pieces: Vec<_> = of_shell
        .iter()
        .map(|triangles| piece(&mesh, triangles))
        .collect();
    let largest = pieces
        .iter()
        .fold(0.0_f64, |most, piece| most.max(piece.volume));
    let is_crumb = |piece: &&Piece| piece.volume >= 0.0 && piece.volume < CRUMB * largest;
    let crumbs: Vec<_> = pieces.iter().filter(is_crumb).collect();
    let goes = |piece: &Piece| {
        let lies_in = |crumb: &&Piece| {
            (0..3).all(|k| {
                crumb.bounds.min[k] <= piece.bounds.min[k]
                    && piece.bounds.max[k] <= crumb.bounds.max[k]
            })
        };
        is_crumb(&piece) || piece.volume < 0.0 && crumbs.iter().any(|crumb| lies_in(crumb))
    };
    let kept: Vec<bool> = pieces.iter().map(|piece| !goes(piece)).collect();
    let left = mesh.triangles().iter().zip(&shells.of_triangle);
    let left: Vec<_> = left
        .filter(|(_, shell)| kept[**shell as usize])
        .map(|(t, _)| *t)
        .collect();
    Ok((only_used(&mesh, left)?, crumbs.len()))
}

struct Piece {
    volume: f64,
    bounds: Bounds,
}

fn piece(mesh: &TriMesh, triangles: &[[u32; 3]]) -> Piece {
    let at = |v: u32| mesh.vertices()[v as usize];
    let about = at(triangles[0][0]);
    let six_times: f64 = triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| at(v) - about);
            a.dot(&b.cross(&c))
        })
        .sum();
    let start = Bounds {
        min: about,
        max: about,
    };
    let bounds = triangles.iter().flatten().fold(start, |bounds, &v| Bounds {
        min: bounds.min.inf(&at(v)),
        max: bounds.max.sup(&at(v)),
    });
    Piece {
        volume: six_times / 6.0,
        bounds,
    }
}

/// A mesh of some of the triangles, without vertices that none of them uses.
fn only_used(mesh: &TriMesh, mut triangles: Vec<[u32; 3]>) -> Result<TriMesh, BadVoxels> {
    let mut number = vec![u32::MAX; mesh.vertices().len()];
    let mut vertices = Vec::new();
    for v in triangles.iter_mut().flatten() {
        let old = *v as usize;
        if number[old] == u32::MAX {
            number[old] = u32::try_from(vertices.len()).unwrap_or(u32::MAX);
            vertices.push(mesh.vertices()[old]);
        }
        *v = number[old];
    }
    Ok(TriMesh::new(vertices, triangles)?)
}
