//! How a bone's file is to be read: label, unit, axes, piece.
//!
//! What is not said is taken as the file has it: millimetres, axes as they are, all pieces.

use std::f64::consts::PI;
use std::path::Path;

use cupwright_geometry::{Solid, TriMesh};
use cupwright_io::{Loaded, ReadMeshError, read_label, read_mesh};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};

use crate::bone::{Unusable, accept, accept_as_it_is};
use crate::piece::{Choice, NoPiece};
use crate::unit::Unit;

/// What is said of a file beside its name.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Reading {
    /// Which label of a label volume.
    pub label: Option<i32>,
    /// Its unit.
    pub unit: Option<Unit>,
    /// Which way its axes point.
    pub axes: Option<Axes>,
    /// Which of its pieces is meant.
    pub piece: Option<Choice>,
}

/// Which way the axes of a file point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Axes {
    /// x to the patient's right, y to the front, z to the head.
    RightAnteriorSuperior,
    /// x to the patient's left, y to the back, z to the head.
    LeftPosteriorSuperior,
}

impl Axes {
    /// From these axes to right, anterior, superior: nothing, or half a turn about z, so that what is
    /// inside stays inside.
    pub fn turn(self) -> Isometry3<f64> {
        match self {
            Self::RightAnteriorSuperior => Isometry3::identity(),
            Self::LeftPosteriorSuperior => Isometry3::from_parts(
                Translation3::identity(),
                UnitQuaternion::from_axis_angle(&Vector3::z_axis(), PI),
            ),
        }
    }
}

impl Reading {
    /// What is in the file at `path`, all pieces, in mm; its axes right, anterior, superior where it was
    /// said how they lie.
    ///
    /// # Errors
    /// When the file cannot be read, or is a volume of several labels and none was chosen.
    pub fn read(&self, path: &Path) -> Result<Loaded, ReadMeshError> {
        let mut loaded = match self.label {
            None => read_mesh(path),
            Some(label) => read_label(path, label),
        }?;
        if let Some(unit) = self.scaling_unit() {
            loaded.mesh = loaded.mesh.scaled(unit.millimetres());
        }
        if let Some(axes) = self.turning_axes() {
            loaded.mesh = loaded.mesh.moved(&axes.turn());
        }
        Ok(loaded)
    }

    /// The unit, where it is not mm.
    pub fn scaling_unit(&self) -> Option<Unit> {
        self.unit.filter(|unit| *unit != Unit::Millimetres)
    }

    /// The axes, where they are to be turned.
    pub fn turning_axes(&self) -> Option<Axes> {
        self.axes
            .filter(|axes| *axes != Axes::RightAnteriorSuperior)
    }

    /// A place of the file, in mm, where it lies in what [`read`](Self::read) gives.
    pub fn place(&self, in_file: [f64; 3]) -> Point3<f64> {
        let place = Point3::from(in_file);
        self.turning_axes()
            .map_or(place, |axes| axes.turn() * place)
    }

    /// The piece that was chosen, with what it encloses; all of the mesh where none was.
    ///
    /// # Errors
    /// When there is no such piece.
    pub fn chosen(&self, mesh: TriMesh) -> Result<TriMesh, NoPiece> {
        match self.piece {
            None => Ok(mesh),
            Some(choice) => choice.alone(mesh),
        }
    }

    /// The mesh as one bone in mm. Where no unit was said, its size must suit tools up to `largest_tool`
    /// mm in diameter.
    ///
    /// # Errors
    /// When it does not enclose bone, holds several bones, or seems to be in another unit.
    pub fn accept(&self, mesh: TriMesh, largest_tool: f64) -> Result<Solid, Unusable> {
        match self.unit {
            Some(_) => accept_as_it_is(mesh),
            None => accept(mesh, largest_tool),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_posterior_superior_is_turned_and_nothing_else_is() {
        let said = |axes| Reading {
            axes,
            ..Reading::default()
        };
        let place = [1.0, 2.0, 3.0];
        assert_eq!(said(None).place(place), Point3::from(place));
        let as_it_is = said(Some(Axes::RightAnteriorSuperior));
        assert_eq!(as_it_is.place(place), Point3::from(place));
        let turned = said(Some(Axes::LeftPosteriorSuperior)).place(place);
        assert!((turned - Point3::new(-1.0, -2.0, 3.0)).norm() < 1e-12);
    }

    #[test]
    fn a_unit_that_was_said_is_believed() {
        let small = cupwright_geometry::samples::cuboid([0.2; 3]);
        let said = |unit| Reading {
            unit,
            ..Reading::default()
        };
        assert!(matches!(
            said(None).accept(small.clone(), 50.0),
            Err(Unusable::Unit {
                unit: Unit::Metres,
                ..
            })
        ));
        assert!(said(Some(Unit::Millimetres)).accept(small, 50.0).is_ok());
    }
}
