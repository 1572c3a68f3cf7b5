//! Bones as label volumes: a voxel is bone where its centre is.

use cupwright_geometry::voxels::Grid;
use cupwright_geometry::{Bounds, Solid, crossing};
use cupwright_io::LabelVolume;
use nalgebra::{Matrix3, Point3, Rotation3, UnitVector3, Vector3};

/// How a scan lies about a bone.
#[derive(Clone, Copy, Debug)]
pub struct Scan {
    /// Distances between voxels along their own axes, in mm; negative where an axis runs backwards, so that one
    /// alone makes the axes left-handed.
    pub spacing: [f64; 3],
    /// How the axes of the voxels are turned against those of the bone's file.
    pub turn: Rotation3<f64>,
    /// Empty voxels around the bone.
    pub margin: usize,
}

impl Scan {
    /// Axes along those of the bone's file.
    pub fn straight(spacing: [f64; 3]) -> Self {
        Self {
            spacing,
            turn: Rotation3::identity(),
            margin: 3,
        }
    }

    /// As [`straight`](Self::straight), turned by 7, −11 and 19 degrees.
    pub fn oblique(spacing: [f64; 3]) -> Self {
        let [a, b, c] = [7.0_f64, -11.0, 19.0].map(f64::to_radians);
        Self {
            turn: Rotation3::from_euler_angles(a, b, c),
            ..Self::straight(spacing)
        }
    }
}

/// The bone as voxels of a label in a volume that is 0 elsewhere.
///
/// # Panics
/// When it has too many voxels; a fixture has not.
pub fn voxelised(bone: &Solid, scan: &Scan, label: i32) -> LabelVolume {
    let (size, grid) = laid_around(bone, scan);
    let [nx, ny, nz] = size;
    let row = grid.axes().column(0).into_owned();
    let (along, step) = (UnitVector3::new_normalize(row), row.norm());
    let mut labels = vec![0; nx * ny * nz];
    for (number, row) in labels.chunks_exact_mut(nx).enumerate() {
        let first = grid.point(&Point3::from([0, number % ny, number / ny].map(real)));
        for [start, end] in crossing::intervals_inside(bone, &first, &along) {
            let inside = |i: &usize| (start..end).contains(&(real(*i) * step));
            (0..nx).filter(inside).for_each(|i| row[i] = label);
        }
    }
    match LabelVolume::new(size, grid, labels) {
        Ok(volume) => volume,
        Err(problem) => panic!("a fixture must be a volume: {problem}"),
    }
}

/// A grid around the bone, and how many voxels it takes.
fn laid_around(bone: &Solid, scan: &Scan) -> ([usize; 3], Grid) {
    let turned: Vec<_> = bone
        .mesh()
        .vertices()
        .iter()
        .map(|p| scan.turn.inverse() * p)
        .collect();
    let Some(bounds) = Bounds::around(&turned) else {
        panic!("a bone has vertices");
    };
    let spacing = Vector3::from(scan.spacing);
    let margin = real(scan.margin) * spacing;
    // Off the round number, so that no centre lies on a vertex.
    let (low, high) = (bounds.min, bounds.max);
    let first = Vector3::from_fn(|k, _| if spacing[k] > 0.0 { low[k] } else { high[k] });
    let first = first - margin - 0.137 * spacing;
    let steps = (high - low).component_div(&spacing.abs());
    let size = [0, 1, 2].map(|k| whole(steps[k]) + 2 * scan.margin + 2);
    let axes = scan.turn.into_inner() * Matrix3::from_diagonal(&spacing);
    match Grid::new(scan.turn * Point3::from(first), axes) {
        Ok(grid) => (size, grid),
        Err(problem) => panic!("a fixture must have a grid: {problem}"),
    }
}

fn real(index: usize) -> f64 {
    u32::try_from(index).map_or(f64::NAN, f64::from)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a fixture's sizes are small and positive"
)]
fn whole(number: f64) -> usize {
    number.ceil() as usize
}
