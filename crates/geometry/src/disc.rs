//! A polygon against a ball about the origin: what of it lies inside, what is seen beyond.
//!
//! The polygon's plane cuts the ball in a disc. Area and solid angle of the parts inside and
//! outside the disc are sums over the polygon's edges, each split where it crosses the circle.

use nalgebra::Vector3;

use crate::chord::Chord;
use crate::polygon::Polygon;

/// What a polygon contributes to the measures of a ball about the origin.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Share {
    /// Area inside the ball times the plane's height: three times the signed volume of the cone
    /// from the origin over that part.
    pub(crate) cone: f64,
    /// Signed solid angle of the whole polygon.
    pub(crate) whole: f64,
    /// Signed solid angle of the part outside the ball.
    pub(crate) beyond: f64,
}

impl Share {
    /// The share of `polygon` in a ball of `radius`.
    ///
    /// `beyond` is continuous even where the plane passes through the origin: near the origin lies
    /// the inside, and the inside is left out.
    pub(crate) fn of(polygon: &Polygon, radius: f64) -> Self {
        let whole = polygon.solid_angle();
        let h = polygon.height();
        if h.abs() >= radius {
            return Self {
                cone: 0.0,
                whole,
                beyond: whole,
            };
        }
        if polygon.reach_squared() <= radius * radius {
            return Self {
                cone: h * polygon.area(),
                whole,
                beyond: 0.0,
            };
        }
        let disc = Disc::new(polygon, radius);
        let mut share = Self {
            cone: 0.0,
            whole,
            beyond: 0.0,
        };
        for (from, to) in polygon.edges() {
            disc.add_edge(from - disc.middle, to - disc.middle, &mut share);
        }
        share
    }
}

/// Where a plane cuts the ball.
struct Disc {
    normal: Vector3<f64>,
    middle: Vector3<f64>,
    height: f64,
    radius_squared: f64,
    /// Solid angle of the disc over 2π, with the sign of the height.
    cap: f64,
}

impl Disc {
    fn new(polygon: &Polygon, radius: f64) -> Self {
        let (normal, height) = (polygon.normal(), polygon.height());
        Self {
            normal,
            middle: height * normal,
            height,
            radius_squared: (radius - height) * (radius + height),
            cap: (1.0 - height.abs() / radius).copysign(height),
        }
    }

    /// Adds the edge from `u` to `v`, both relative to the disc's middle.
    fn add_edge(&self, u: Vector3<f64>, v: Vector3<f64>, share: &mut Share) {
        let along = v - u;
        let (a, b) = (along.norm_squared(), u.dot(&along));
        let c = u.norm_squared() - self.radius_squared;
        let Some(Chord { enter, leave }) = Chord::of(a, b, c) else {
            return self.add_outside(u, v, share);
        };
        let at = |t: f64| u + along * t;
        let start = if enter > 0.0 { at(enter) } else { u };
        let end = if leave < 1.0 { at(leave) } else { v };
        if enter > 0.0 {
            self.add_outside(u, start, share);
        }
        share.cone += self.height * 0.5 * self.normal.dot(&start.cross(&end));
        if leave < 1.0 {
            self.add_outside(end, v, share);
        }
    }

    /// A piece outside the disc bounds a sector of it, and the view of what lies beyond.
    fn add_outside(&self, u: Vector3<f64>, v: Vector3<f64>, share: &mut Share) {
        let (cross, dot) = (self.normal.dot(&u.cross(&v)), u.dot(&v));
        let sector = cross.atan2(dot);
        share.cone += self.height * 0.5 * self.radius_squared * sector;
        let h = self.height.abs();
        let (to_u, to_v) = (
            (h * h + u.norm_squared()).sqrt(),
            (h * h + v.norm_squared()).sqrt(),
        );
        let away = cross * 1.0_f64.copysign(self.height);
        let half = away.atan2(to_u * to_v + h * (to_u + to_v) + h * h + dot);
        share.beyond += 2.0 * half - self.cap * sector;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    /// A large triangle in the plane z = h, facing up.
    fn sheet(h: f64) -> Polygon {
        let corner = |x, y| Vector3::new(x, y, h);
        Polygon::triangle([
            corner(-100.0, -90.0),
            corner(110.0, -80.0),
            corner(0.0, 120.0),
        ])
        .unwrap()
    }

    #[test]
    fn a_plane_cuts_a_disc_from_a_ball() {
        let share = Share::of(&sheet(0.6), 1.0);
        assert_relative_eq!(share.cone, 0.6 * PI * 0.64, max_relative = 1e-13);
        assert_relative_eq!(
            share.whole - share.beyond,
            2.0 * PI * 0.4,
            max_relative = 1e-13
        );
        assert_relative_eq!(
            Share::of(&sheet(-0.6), 1.0).cone,
            -0.6 * PI * 0.64,
            max_relative = 1e-13
        );
    }

    #[test]
    fn what_is_seen_beyond_does_not_jump_where_the_plane_passes_the_middle() {
        let beyond = [-1e-13, -0.0, 0.0, 1e-13].map(|h| Share::of(&sheet(h), 1.0).beyond);
        assert!(beyond.iter().all(|b| b.abs() < 1e-12), "{beyond:?}");
    }

    #[test]
    fn a_triangle_inside_the_ball_is_all_inside_and_a_far_one_all_beyond() {
        let inside = Share::of(&sheet(0.5), 1000.0);
        assert_relative_eq!(inside.cone, 0.5 * sheet(0.5).area(), max_relative = 1e-14);
        assert_eq!(inside.beyond.to_bits(), 0.0_f64.to_bits());
        let far = Share::of(&sheet(2.0), 1.0);
        assert_eq!(
            (far.cone.to_bits(), far.beyond.to_bits()),
            (0.0_f64.to_bits(), far.whole.to_bits())
        );
    }

    #[test]
    fn a_plane_that_just_touches_the_ball_adds_nothing() {
        for radius in [0.6_f64.next_down(), 0.6, 0.6_f64.next_up()] {
            let share = Share::of(&sheet(0.6), radius);
            assert!(share.cone.abs() < 1e-15 && (share.whole - share.beyond).abs() < 1e-15);
        }
    }

    #[test]
    fn an_edge_through_the_middle_splits_the_disc_in_two() {
        let corner = |x, y| Vector3::new(x, y, 0.5);
        let half =
            Polygon::triangle([corner(-50.0, 0.0), corner(50.0, 0.0), corner(0.0, 70.0)]).unwrap();
        let share = Share::of(&half, 1.0);
        assert_relative_eq!(share.cone, 0.5 * PI * 0.75 / 2.0, max_relative = 1e-13);
        assert_relative_eq!(share.whole - share.beyond, PI * 0.5, max_relative = 1e-13);
    }
}
