//! What can be dragged in the picture: the cup's centre along the pelvic axes, and its axis.

use bevy::math::{Vec2, Vec3};
use cupwright_anatomy::Orientation;
use cupwright_procedure::case::ShiftEntry;
use cupwright_procedure::edit::Edit;
use cupwright_procedure::findings::Shift;
use cupwright_procedure::placed::Placed;
use cupwright_procedure::{Bone, Case};
use nalgebra::Unit;

use super::eye::Lens;
use super::ground::{Ground, UNIT_MM, pelvic_axes, single};

/// How far from a handle the pointer still takes it, in points of the screen.
const REACH: f32 = 12.0;

/// How far beyond the cup's radius the arrows begin and end, in mm.
const ARROW_MM: [f64; 2] = [6.0, 24.0];

/// How far from the centre the end of the axis is drawn, in mm.
const AXIS_MM: f64 = 62.0;

/// Something to drag.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Grip {
    /// The centre, toward the midline or away.
    Medial,
    /// The centre, toward the head or away.
    Superior,
    /// The centre, toward the front or away.
    Anterior,
    /// The end of the cup's axis.
    Axis,
}

impl Grip {
    pub(crate) const ALL: [Self; 4] = [Self::Axis, Self::Medial, Self::Superior, Self::Anterior];

    /// What it is called at its place.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Medial => "medial",
            Self::Superior => "superior",
            Self::Anterior => "anterior",
            Self::Axis => "cup axis",
        }
    }

    fn along(self) -> Shift {
        let [medial_mm, superior_mm, anterior_mm] = match self {
            Self::Medial => [1.0, 0.0, 0.0],
            Self::Superior => [0.0, 1.0, 0.0],
            Self::Anterior => [0.0, 0.0, 1.0],
            Self::Axis => [0.0; 3],
        };
        Shift {
            medial_mm,
            superior_mm,
            anterior_mm,
        }
    }
}

/// The handles of a plan in the scene.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Handles {
    pub(crate) centre: Vec3,
    /// From the centre to the end of the axis.
    pub(crate) axis: Vec3,
    radius: f32,
    directions: [Vec3; 3],
}

/// A drag under way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drag {
    pub(crate) grip: Grip,
    /// Where along the arrow it was taken, in units of the scene.
    start: f32,
    /// The cup's centre and axis when it was taken.
    from: Handles,
    /// The centre as typed when it was taken.
    typed: ShiftEntry,
    /// Whether it has changed anything yet.
    pub(crate) has_moved: bool,
}

impl Handles {
    /// The handles of a plan; `None` where its cup has no place.
    pub(crate) fn of(case: &Case, bone: &Bone) -> Option<Self> {
        let cup = Placed::cup(case, bone).ok()?;
        let ground = Ground::of(bone);
        let along = |grip: Grip| ground.direction(&bone.vector(grip.along()));
        Some(Self {
            centre: ground.point(&cup.head().centre()),
            axis: ground.direction(&cup.head().axis()) * single(AXIS_MM / UNIT_MM),
            radius: single(cup.head().radius() / UNIT_MM),
            directions: [Grip::Medial, Grip::Superior, Grip::Anterior].map(along),
        })
    }

    fn direction(&self, grip: Grip) -> Vec3 {
        match grip {
            Grip::Medial => self.directions[0],
            Grip::Superior => self.directions[1],
            Grip::Anterior => self.directions[2],
            Grip::Axis => self.axis.normalize_or_zero(),
        }
    }

    /// From where to where a handle is drawn.
    pub(crate) fn line(&self, grip: Grip) -> [Vec3; 2] {
        if grip == Grip::Axis {
            return [self.centre, self.centre + self.axis];
        }
        let along = self.direction(grip);
        let ends = ARROW_MM.map(|mm| self.radius + single(mm / UNIT_MM));
        ends.map(|far| self.centre + along * far)
    }

    /// The handle under the pointer, the nearest to it.
    pub(crate) fn under(&self, pointer: Vec2, lens: &Lens) -> Option<Grip> {
        let near = |grip: Grip| {
            let [a, b] = self.line(grip);
            let (a, b) = (lens.seen(a)?, lens.seen(b)?);
            // Of the axis only its end is a handle: its foot lies in the middle of the cup.
            let distance = match grip {
                Grip::Axis => pointer.distance(b),
                _ => from_segment(pointer, a, b),
            };
            (distance <= REACH).then_some((grip, distance))
        };
        let all = Grip::ALL.into_iter().filter_map(near);
        all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(grip, _)| grip)
    }

    /// Takes a handle.
    pub(crate) fn take(&self, grip: Grip, pointer: Vec2, lens: &Lens, case: ShiftEntry) -> Drag {
        Drag {
            grip,
            start: self.along(grip, pointer, lens).unwrap_or(0.0),
            from: *self,
            typed: case,
            has_moved: false,
        }
    }

    /// How far along a handle's line, from the centre, the pointer's ray passes it nearest.
    fn along(&self, grip: Grip, pointer: Vec2, lens: &Lens) -> Option<f32> {
        let (from, ray) = lens.ray(pointer);
        let line = self.direction(grip);
        let across = ray.cross(line);
        // Seen end on, an arrow cannot be dragged.
        if across.length_squared() < 1e-3 {
            return None;
        }
        let off = from - self.centre;
        Some(off.cross(ray).dot(-across) / across.length_squared())
    }
}

impl Drag {
    /// What the drag asks for with the pointer here; `None` where that is nowhere.
    pub(crate) fn edit(
        &self,
        pointer: Vec2,
        lens: &Lens,
        case: &Case,
        bone: &Bone,
    ) -> Option<Edit> {
        if self.grip == Grip::Axis {
            return self.turned(pointer, lens, case, bone);
        }
        let moved = self.from.along(self.grip, pointer, lens)? - self.start;
        // To a tenth of a mm: what is dragged can be read and typed.
        let mm = (f64::from(moved) * UNIT_MM * 10.0).round() / 10.0;
        let mut centre = self.typed;
        match self.grip {
            Grip::Medial => centre.medial_mm = tenth(centre.medial_mm + mm),
            Grip::Superior => centre.superior_mm = tenth(centre.superior_mm + mm),
            Grip::Anterior => centre.anterior_mm = tenth(centre.anterior_mm + mm),
            Grip::Axis => {}
        }
        Some(Edit::CupCentre(centre))
    }

    /// The axis through the pointer, on the ball that its end moves on.
    fn turned(&self, pointer: Vec2, lens: &Lens, case: &Case, bone: &Bone) -> Option<Edit> {
        let (from, ray) = lens.ray(pointer);
        let (off, radius) = (from - self.from.centre, self.from.axis.length());
        let middle = -off.dot(ray);
        let nearest = off + middle * ray;
        let depth = radius * radius - nearest.length_squared();
        // Beside the ball the axis lies in the picture's plane.
        let reach = depth.max(0.0).sqrt();
        let toward_eye = self.from.axis.dot(-ray) >= 0.0;
        let end = nearest + ray * if toward_eye { -reach } else { reach };
        let axis = Unit::try_new(pelvic_axes(end), 1e-6)?;
        let turned = Orientation::of_axis(&axis, bone.side, case.definition);
        Some(Edit::CupAngles {
            inclination_deg: tenth(turned.inclination().to_degrees()),
            anteversion_deg: tenth(turned.anteversion().to_degrees()),
        })
    }
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn from_segment(p: Vec2, a: Vec2, b: Vec2) -> f32 {
    let along = b - a;
    let share = ((p - a).dot(along) / along.length_squared().max(1e-6)).clamp(0.0, 1.0);
    p.distance(a + along * share)
}
