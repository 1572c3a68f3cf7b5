//! The rim on a bare mesh: the lip all round the clock face, its plane, its notch, the floor below it.
//!
//! Everything is seen from the socket's centre, in the axes of a right hip (x lateral, y anterior, z
//! superior), mm. The rim comes from exact sections of the triangles with half planes through the axis.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Matrix3, Vector3};

/// The surface around a socket, its centre at the origin.
pub(crate) struct Bowl {
    /// Radius of the sphere of its articular surface, mm.
    pub(crate) radius: f64,
    /// How far from the sphere the articular surface is taken to reach, mm.
    pub(crate) window: f64,
    /// Corners of the triangles within 1.6 radii.
    pub(crate) near: Vec<[Vector3<f64>; 3]>,
}

/// A place on a section: its angle from the deepest point, its distance from the centre, and itself.
type Place = (f64, f64, Vector3<f64>);

impl Bowl {
    /// Greatest distance of the socket's floor below a plane.
    pub(crate) fn deepest_below(&self, on_plane: &Vector3<f64>, normal: &Vector3<f64>) -> f64 {
        self.near
            .iter()
            .filter(|corners| {
                let q = corners[0];
                let outward = (corners[1] - q).cross(&(corners[2] - q));
                q.norm() < 1.35 * self.radius
                    && q.dot(normal) < -0.4 * q.norm()
                    && outward.dot(&q) < 0.0
            })
            .map(|corners| (on_plane - corners[0]).dot(normal))
            .fold(0.0, f64::max)
    }

    /// The outermost point of the lip in the half plane that `axis` bounds and `towards` lies in, as
    /// its angle from `-axis` and its place.
    ///
    /// The lip is what lies within an eighth outside the distance of the articular surface just inside.
    pub(crate) fn lip(
        &self,
        axis: &Vector3<f64>,
        towards: &Vector3<f64>,
    ) -> Option<(f64, Vector3<f64>)> {
        let across = axis.cross(towards);
        let crossings = self
            .near
            .iter()
            .flat_map(|corners| crossing(corners, &across));
        let ahead = crossings.flatten().filter(|q| q.dot(towards) > 0.0);
        let points: Vec<Place> = ahead.map(|q| place(&q, axis, towards)).collect();
        self.outermost_of(&points)
    }

    fn outermost_of(&self, section: &[Place]) -> Option<(f64, Vector3<f64>)> {
        let outermost = |least: f64, most: f64| {
            section
                .iter()
                .filter(|p| (least..most).contains(&p.1))
                .max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let rough = outermost(0.82 * self.radius, 1.22 * self.radius)?.0;
        let just_inside = section
            .iter()
            .filter(|p| (rough - 0.4..rough - 0.12).contains(&p.0) && p.1 < 1.25 * self.radius)
            .map(|p| p.1);
        let local = median(just_inside).clamp(self.radius - self.window, self.radius + self.window);
        outermost(0.95 * local, 1.12 * local).map(|p| (p.0, p.2))
    }

    /// The lip in the half planes a degree apart, from `up` by way of `forward`, all about `axis`: what
    /// [`lip`](Self::lip) gives for each, each triangle being looked at in the few it can reach.
    fn lips(
        &self,
        axis: &Vector3<f64>,
        up: &Vector3<f64>,
        forward: &Vector3<f64>,
    ) -> Vec<Option<(f64, Vector3<f64>)>> {
        let towards: Vec<Vector3<f64>> = (0..360)
            .map(|d| {
                let clock = f64::from(d) * TAU / 360.0;
                up * clock.cos() + forward * clock.sin()
            })
            .collect();
        let mut sections: Vec<Vec<Place>> = vec![Vec::new(); 360];
        for corners in &self.near {
            for d in degrees_of(corners, up, forward) {
                let across = axis.cross(&towards[d]);
                let crossings = crossing(corners, &across).into_iter().flatten();
                let ahead = crossings.filter(|q| q.dot(&towards[d]) > 0.0);
                sections[d].extend(ahead.map(|q| place(&q, axis, &towards[d])));
            }
        }
        sections.iter().map(|s| self.outermost_of(s)).collect()
    }
}

fn place(q: &Vector3<f64>, axis: &Vector3<f64>, towards: &Vector3<f64>) -> Place {
    (q.dot(towards).atan2(-q.dot(axis)), q.norm(), *q)
}

/// The whole degrees on the clock face that a triangle may reach, with one to spare on either side; all
/// where the axis may pass through it.
fn degrees_of(
    corners: &[Vector3<f64>; 3],
    up: &Vector3<f64>,
    forward: &Vector3<f64>,
) -> impl Iterator<Item = usize> + use<> {
    let [a, b, c] = corners.map(|q| q.dot(forward).atan2(q.dot(up)));
    let turned = |to: f64| (to - a + PI).rem_euclid(TAU) - PI;
    let (b, c) = (turned(b), turned(c));
    let (least, most) = (b.min(c).min(0.0), b.max(c).max(0.0));
    let round = most - least > FRAC_PI_2;
    let first = ((a + least).rem_euclid(TAU).to_degrees() - 1.0).max(0.0);
    let count = if round {
        360
    } else {
        3 + whole((most - least).to_degrees())
    };
    let first = whole(first);
    (0..count.min(360)).map(move |k| (first + k) % 360)
}

/// Where the sides of a triangle cross the plane through the origin across `normal`.
fn crossing(corners: &[Vector3<f64>; 3], normal: &Vector3<f64>) -> [Option<Vector3<f64>>; 3] {
    let heights = corners.map(|q| q.dot(normal));
    std::array::from_fn(|i| {
        let j = (i + 1) % 3;
        ((heights[i] < 0.0) != (heights[j] < 0.0)).then(|| {
            let t = heights[i] / (heights[i] - heights[j]);
            corners[i] + t * (corners[j] - corners[i])
        })
    })
}

/// The part of the clock face that is left to the notch: 4:36 to 7:24, in degrees from 12 o'clock.
const NOTCH: std::ops::Range<usize> = 138..222;

/// A rim this far below hemisphere level is none, rad: 80°.
const NO_LIP: f64 = 1.4;

/// The rim: its points about the socket's centre and how they face.
pub(crate) struct Rim {
    /// Angle below hemisphere level and place, a degree apart from 12 o'clock by way of 3.
    profile: Vec<(f64, Vector3<f64>)>,
    /// Least-squares plane of the rim without the notch.
    pub(crate) middle: Vector3<f64>,
    pub(crate) normal: Vector3<f64>,
}

impl Rim {
    /// The axis about which angles are measured is the normal of the plane through the three prominences
    /// (Köhnlein 2009: anterosuperior, anteroinferior and posteroinferior), found by iteration.
    pub(crate) fn of(bowl: &Bowl) -> Option<Self> {
        let mut axis = Vector3::new(0.74, 0.3, -0.6).normalize();
        for _ in 0..6 {
            let profile = Self::profile(bowl, &axis);
            let tips = [(0.3, 2.3), (3.3, 5.2), (6.8, 8.7)]
                .map(|(from, to)| top_of(&profile[degree(from)..degree(to)]));
            let across = (tips[1] - tips[0]).cross(&(tips[2] - tips[0]));
            axis = across.try_normalize(1e-9)?;
            if axis.x < 0.0 {
                axis = -axis;
            }
        }
        let profile = Self::profile(bowl, &axis);
        let on_rim: Vec<Vector3<f64>> = (0..360)
            .filter(|d| !NOTCH.contains(d) && profile[*d].0 < NO_LIP)
            .map(|d| profile[d].1)
            .collect();
        let count = f64::from(u32::try_from(on_rim.len()).ok()?);
        let middle = on_rim.iter().sum::<Vector3<f64>>() / count;
        let spread: Matrix3<f64> = on_rim
            .iter()
            .map(|q| (q - middle) * (q - middle).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let normal: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
        let normal = if normal.dot(&axis) < 0.0 {
            -normal
        } else {
            normal
        };
        Some(Self {
            profile,
            middle,
            normal,
        })
    }

    fn profile(bowl: &Bowl, axis: &Vector3<f64>) -> Vec<(f64, Vector3<f64>)> {
        let up = (Vector3::z() - axis * axis.z).normalize();
        let forward = up.cross(axis);
        let lips = bowl.lips(axis, &up, &forward).into_iter();
        lips.map(|lip| {
            // No lip at all reads as a rim at the deepest point.
            let (polar, q) = lip.unwrap_or((0.0, -axis * bowl.radius));
            (FRAC_PI_2 - polar, q)
        })
        .collect()
    }

    /// The rim's places from 12 o'clock by way of 3, a degree apart, with the degree; the notch, where
    /// there is none to see, left out.
    pub(crate) fn curve(&self) -> impl Iterator<Item = (usize, Vector3<f64>)> + '_ {
        let seen = self.profile.iter().enumerate();
        seen.filter(|(d, p)| !NOTCH.contains(d) && p.0 < NO_LIP)
            .map(|(d, p)| (d, p.1))
    }

    /// Deepest place below hemisphere level between two hours, rad.
    pub(crate) fn deepest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MIN, f64::max)
    }

    fn highest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MAX, f64::min)
    }

    /// Straight distance between the last points of the rim on either side of the gap around 6 o'clock.
    pub(crate) fn notch_width(&self) -> Option<f64> {
        let horns = self
            .highest_between(4.0, 5.2)
            .max(self.highest_between(6.8, 8.0));
        let gap = |d: &usize| self.profile[*d].0 > horns + 15.0 * PI / 180.0;
        let front = (degree(4.0)..=degree(6.0)).find(gap)?;
        let back = (degree(6.0)..=degree(8.0)).rev().find(gap)?;
        Some((self.profile[front - 1].1 - self.profile[back + 1].1).norm())
    }
}

/// The middle of the top of a prominence, steadier than its single highest point.
fn top_of(profile: &[(f64, Vector3<f64>)]) -> Vector3<f64> {
    const NEAR_TOP: f64 = 0.012;
    let top = profile.iter().map(|p| p.0).fold(f64::MAX, f64::min);
    let near = || profile.iter().filter(|p| p.0 < top + NEAR_TOP);
    let count = f64::from(u32::try_from(near().count()).unwrap_or(1));
    near().map(|p| p.1).sum::<Vector3<f64>>() / count
}

/// The whole degree on the clock face of an hour.
fn degree(o_clock: f64) -> usize {
    whole(o_clock * 30.0)
}

pub(crate) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// A number of degrees as a whole one.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "angles on the clock face are positive and small"
)]
fn whole(degrees: f64) -> usize {
    degrees as usize
}
