//! All that is asked of one tool, in one walk over the patches of surface that its own surface crosses.
//!
//! Patches inside the half ball or the column add their integrals, patches outside add nothing, and the
//! loops in which the bone's surface crosses the half sphere give the area of it in bone (`loops`). How
//! many layers of bone lie about the rim is asked in the plane of the rim, of the same cut through the
//! triangles, so that it agrees with the loops even where a face lies in that plane.

use std::f64::consts::TAU;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::Solid;
use crate::column::{self, volume_over};
use crate::loops::{Below, Passages, is_beyond, on_equator, on_plane};
use crate::patches::{Flux, Reach, Walk};
use crate::polygon::Polygon;
use crate::rim::{self, Crossing};
use crate::shape::{Bullet, Hemisphere};
use crate::sum::Sum;
use crate::within::{View, Within};

/// What one tool finds in bone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Swept {
    /// The half ball.
    pub(crate) within: Within,
    /// Volume in the column above it, in mm³.
    pub(crate) column: f64,
    /// Share of the rim in bone, 0 to 1.
    pub(crate) rim: f64,
}

/// Room that one walk after another uses.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scratch {
    crossings: Vec<Crossing>,
}

/// What a half ball finds, without a column.
pub(crate) fn half_ball(solid: &Solid, tool: &Hemisphere, scratch: &mut Scratch) -> Swept {
    Sweep::new(solid, tool, None, scratch).swept()
}

/// What a bullet finds.
pub(crate) fn bullet(solid: &Solid, bullet: &Bullet, scratch: &mut Scratch) -> Swept {
    let column = Some(bullet.column()).filter(|length| *length > 0.0);
    Sweep::new(solid, bullet.head(), column, scratch).swept()
}

struct Sweep<'a> {
    solid: &'a Solid,
    view: View,
    axis: Vector3<f64>,
    /// The centre as patches are told.
    centre: Vector3<f64>,
    /// Length of the column, where there is one.
    length: Option<f64>,
    rounding: f64,
    cone: Sum,
    turned: Sum,
    column: Sum,
    crossings: &'a mut Vec<Crossing>,
}

impl<'a> Sweep<'a> {
    fn new(
        solid: &'a Solid,
        tool: &Hemisphere,
        length: Option<f64>,
        scratch: &'a mut Scratch,
    ) -> Self {
        let patches = solid.patches();
        scratch.crossings.clear();
        Self {
            solid,
            view: View::of(tool),
            axis: tool.axis().into_inner(),
            centre: tool.centre() - patches.origin(),
            length,
            rounding: patches.rounding(&tool.centre(), tool.radius()),
            cone: Sum::default(),
            turned: Sum::default(),
            column: Sum::default(),
            crossings: &mut scratch.crossings,
        }
    }

    fn swept(mut self) -> Swept {
        let solid = self.solid;
        solid.walk(&mut self);
        let radius = self.view.radius;
        let in_plane = RimPlane::new(solid, &self.view, self.rounding);
        let rim = rim::around(self.crossings, |angle| in_plane.depth(angle));
        let area = radius * radius * (rim.layers - self.turned.total());
        // Where there is no bone rounding must not leave less than none.
        Swept {
            within: Within {
                volume: ((self.cone.total() + radius * area) / 3.0).max(0.0),
                area: area.max(0.0),
            },
            column: self.column.total(),
            rim: rim.in_bone / TAU,
        }
    }

    fn below(&mut self, indices: [u32; 3], corners: [Vector3<f64>; 3]) {
        let share = Below::of(indices, corners).share(self.view.radius);
        self.cone.add(share.cone);
        self.turned.add(share.turned);
        let Passages {
            into_bone,
            out_of_bone,
        } = share.rim;
        for (place, step) in [(into_bone, 1), (out_of_bone, -1)] {
            if let Some(p) = place {
                let angle = p.y.atan2(p.x).rem_euclid(TAU);
                self.crossings.push(Crossing { angle, step });
            }
        }
    }

    fn above(&mut self, corners: [Vector3<f64>; 3]) {
        if let Some(length) = self.length {
            self.column
                .add(in_column(corners, self.view.radius, length));
        }
    }

    /// Whether to go into a patch above the equator, of which all within the column counts as whole.
    fn enters_column(&mut self, height: f64, across: f64, reach: f64, flux: &Flux) -> bool {
        let radius = self.view.radius;
        let Some(length) = self.length else {
            return false;
        };
        if across > square(radius + reach) {
            return false;
        }
        if radius <= reach || across >= square(radius - reach) {
            return true;
        }
        if height + reach < length {
            self.column.add(flux.under(&self.centre, &self.axis));
            return false;
        }
        if height - reach > length {
            self.column.add(length * flux.shadow(&self.axis));
            return false;
        }
        true
    }

    fn enters_half_ball(&mut self, away: f64, reach: f64, flux: &Flux) -> bool {
        let radius = self.view.radius;
        if away > square(radius + reach) {
            return false;
        }
        if radius > reach && away < square(radius - reach) {
            self.cone.add(flux.cone(&self.centre));
            return false;
        }
        true
    }
}

impl Walk for Sweep<'_> {
    #[inline]
    fn enters(&mut self, patch: &Reach, flux: &Flux) -> bool {
        let x = patch.centre - self.view.centre;
        let height = x.dot(&self.axis);
        let away = x.norm_squared();
        let reach = patch.radius + self.rounding;
        if height > reach {
            self.enters_column(height, away - height * height, reach, flux)
        } else if height < -reach {
            self.enters_half_ball(away, reach, flux)
        } else {
            away - height * height <= square(self.view.radius + reach)
        }
    }

    #[inline]
    fn triangle(&mut self, index: u32) {
        let corners = self.view.corners(self.solid, index);
        let [a, b, c] = &corners;
        let squared = square(self.view.radius);
        let solid = self.solid;
        let indices = || solid.mesh().triangles()[index as usize];
        if a.z.max(b.z).max(c.z) < 0.0 {
            let inside = |p: &Vector3<f64>| p.norm_squared() < squared;
            match (inside(a), inside(b), inside(c)) {
                (true, true, true) => self.cone.add(a.dot(&b.cross(c)) / 2.0),
                (false, false, false) if is_beyond(&corners, squared) => {}
                _ => self.below(indices(), corners),
            }
        } else if !column::is_beside(&corners, squared) {
            if a.z.min(b.z).min(c.z) < 0.0 {
                self.below(indices(), corners);
            }
            self.above(corners);
        }
    }
}

fn square(x: f64) -> f64 {
    x * x
}

/// The signed volume between a triangle's part above the equator and the equator, within the column.
fn in_column(corners: [Vector3<f64>; 3], radius: f64, length: f64) -> f64 {
    let [a, b, c] = &corners;
    let (low, high) = (a.z.min(b.z).min(c.z), a.z.max(b.z).max(c.z));
    let inside = |p: &Vector3<f64>| square(p.x) + square(p.y) < square(radius);
    if high <= length && inside(a) && inside(b) && inside(c) {
        return if low >= 0.0 {
            column::under(&corners)
        } else {
            under_part(&corners)
        };
    }
    let Some(mut above) = Polygon::triangle(corners) else {
        return 0.0;
    };
    if low < 0.0 {
        above = above.clipped(&-Vector3::z(), 0.0);
    }
    let whole = volume_over(&above, 0.0, radius);
    if high <= length {
        return whole;
    }
    let beyond = above.clipped(&-Vector3::z(), -length);
    whole - volume_over(&beyond, length, radius)
}

/// Signed volume between the equator's plane and what of a triangle lies above it.
fn under_part([a, b, c]: &[Vector3<f64>; 3]) -> f64 {
    let mut kept = [Vector3::zeros(); 4];
    let mut count = 0;
    for (from, to) in [(a, b), (b, c), (c, a)] {
        if from.z >= 0.0 {
            kept[count] = *from;
            count += 1;
        }
        if (from.z >= 0.0) != (to.z >= 0.0) {
            kept[count] = on_equator(from, to);
            count += 1;
        }
    }
    let [a, b, c, d] = kept;
    let second = if count == 4 {
        column::under(&[a, c, d])
    } else {
        0.0
    };
    column::under(&[a, b, c]) + second
}

/// The plane of a tool's rim.
struct RimPlane<'a> {
    solid: &'a Solid,
    view: &'a View,
    rounding: f64,
}

impl<'a> RimPlane<'a> {
    fn new(solid: &'a Solid, view: &'a View, rounding: f64) -> Self {
        Self {
            solid,
            view,
            rounding,
        }
    }

    /// How many layers of bone lie about the rim at an angle: how often the bone's outline in the plane
    /// goes round that place.
    fn depth(&self, angle: f64) -> i32 {
        let (sin, cos) = angle.sin_cos();
        // Seen from the rim outward.
        let turn = Matrix3::new(cos, sin, 0.0, -sin, cos, 0.0, 0.0, 0.0, 1.0);
        let mut ray = Ray {
            plane: self,
            frame: turn * self.view.frame,
            centre: self.view.centre,
            turn: [cos, sin],
            depth: 0,
        };
        self.solid.walk(&mut ray);
        ray.depth
    }
}

/// A ray in the plane of a rim, from a place on the rim outward.
struct Ray<'a> {
    plane: &'a RimPlane<'a>,
    frame: Matrix3<f64>,
    centre: Point3<f64>,
    turn: [f64; 2],
    depth: i32,
}

impl Walk for Ray<'_> {
    fn enters(&mut self, patch: &Reach, _: &Flux) -> bool {
        let x = self.frame * (patch.centre - self.centre);
        let reach = patch.radius + self.plane.rounding;
        x.z.abs() <= reach && x.y.abs() <= reach && x.x + reach >= self.plane.view.radius
    }

    fn triangle(&mut self, index: u32) {
        let indices = self.plane.solid.mesh().triangles()[index as usize];
        let corners = self.plane.view.corners(self.plane.solid, index);
        let [cos, sin] = self.turn;
        let seen = |p: Vector3<f64>| {
            let along = p.x * cos + p.y * sin - self.plane.view.radius;
            [along, p.y * cos - p.x * sin]
        };
        if let Some([from, to]) = on_plane(indices, &corners) {
            self.depth += half_turn(seen(from), seen(to));
        }
    }
}

/// +1 where an edge crosses the half line from the origin toward +x upward, −1 downward, else 0.
fn half_turn(from: [f64; 2], to: [f64; 2]) -> i32 {
    let left = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0] > 0.0;
    let upward = from[1] <= 0.0 && 0.0 < to[1];
    let downward = to[1] <= 0.0 && 0.0 < from[1];
    if upward && left(from, to) {
        1
    } else if downward && left(to, from) {
        -1
    } else {
        0
    }
}

#[cfg(test)]
mod tests;
