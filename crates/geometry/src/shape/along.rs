//! The part of a ray that lies inside a bullet: one stretch or none, for a bullet is convex.

use nalgebra::{Point3, UnitVector3, Vector3};

use super::Bullet;

impl Bullet {
    /// Where a ray runs inside the bullet, from where to where, as distances from its origin in mm.
    ///
    /// The stretch begins at 0 when the origin lies inside, and ends at infinity where the ray runs up
    /// an open column. `None` when the ray passes by or,
    /// up to rounding, only touches.
    ///
    /// ```
    /// # use cupwright_geometry::*;
    /// # use nalgebra::{Point3, Vector3};
    /// let head = Hemisphere::new(Point3::origin(), Vector3::z(), 25.0)?;
    /// let across = |height| Point3::new(-40.0, 0.0, height);
    /// // 7 mm below the centre a chord of 2 · 24 mm, above it the whole width of the column.
    /// let inside = Bullet::open(head).along(&across(-7.0), &Vector3::x_axis());
    /// assert_eq!(inside, Some([16.0, 64.0]));
    /// let inside = Bullet::open(head).along(&across(7.0), &Vector3::x_axis());
    /// assert_eq!(inside, Some([15.0, 65.0]));
    /// # Ok::<(), BadShape>(())
    /// ```
    pub fn along(&self, origin: &Point3<f64>, direction: &UnitVector3<f64>) -> Option<[f64; 2]> {
        let axis = self.head.axis().into_inner();
        let from = origin - self.head.centre();
        let (height, climb) = (from.dot(&axis), direction.dot(&axis));
        let head = common(self.in_ball(&from, direction), below(height, climb));
        let column = common(
            self.in_cylinder(&from, direction),
            common(below(-height, -climb), below(height - self.column, climb)),
        );
        // Both parts end where the ray crosses the plane between them.
        let [enter, leave] = match (head, column) {
            (Some(a), Some(b)) => [a[0].min(b[0]), a[1].max(b[1])],
            (one, other) => one.or(other)?,
        };
        let enter = enter.max(0.0);
        (enter < leave).then_some([enter, leave])
    }

    /// Where a line runs inside the whole ball, with `from` counted from its centre.
    fn in_ball(&self, from: &Vector3<f64>, direction: &Vector3<f64>) -> Option<[f64; 2]> {
        let (middle, radius) = (-from.dot(direction), self.head.radius());
        let off = (from + middle * direction).norm();
        // As a product, so that a line near the surface keeps its digits.
        let half = ((radius - off) * (radius + off)).max(0.0).sqrt();
        (off < radius).then_some([middle - half, middle + half])
    }

    /// Where a line runs inside the cylinder about the axis, without ends.
    fn in_cylinder(&self, from: &Vector3<f64>, direction: &Vector3<f64>) -> Option<[f64; 2]> {
        let (axis, radius) = (self.head.axis().into_inner(), self.head.radius());
        let flat = |v: &Vector3<f64>| v - v.dot(&axis) * axis;
        let (across, drift) = (flat(from), flat(direction));
        let (a, b) = (drift.norm_squared(), across.dot(&drift));
        if a < f64::MIN_POSITIVE {
            let inside = across.norm() < radius;
            return inside.then_some([f64::NEG_INFINITY, f64::INFINITY]);
        }
        let off = across.cross(&drift).norm() / a.sqrt();
        let half = ((radius - off) * (radius + off) / a).max(0.0).sqrt();
        let middle = -b / a;
        (off < radius).then_some([middle - half, middle + half])
    }
}

/// Where a line is at most as high as a plane that it starts `height` above and climbs away from.
fn below(height: f64, climb: f64) -> Option<[f64; 2]> {
    let meets = -height / climb;
    if climb > 0.0 {
        Some([f64::NEG_INFINITY, meets])
    } else if climb < 0.0 {
        Some([meets, f64::INFINITY])
    } else {
        (height <= 0.0).then_some([f64::NEG_INFINITY, f64::INFINITY])
    }
}

/// What two stretches of a line have in common; a single place counts.
fn common(one: Option<[f64; 2]>, other: Option<[f64; 2]>) -> Option<[f64; 2]> {
    let ([a, b], [c, d]) = (one?, other?);
    let both = [a.max(c), b.min(d)];
    (both[0] <= both[1]).then_some(both)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Hemisphere;
    use approx::assert_relative_eq;

    fn head(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
        Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
    }

    fn upright() -> Hemisphere {
        head([0.0; 3], [0.0, 0.0, 1.0], 5.0)
    }

    #[track_caller]
    fn check(bullet: Bullet, from: [f64; 3], toward: [f64; 3], expected: Option<[f64; 2]>) {
        let toward = UnitVector3::new_normalize(toward.into());
        let found = bullet.along(&from.into(), &toward);
        match (found, expected) {
            (Some(found), Some(expected)) => {
                assert_relative_eq!(found[0], expected[0], epsilon = 1e-12);
                if expected[1].is_finite() {
                    assert_relative_eq!(found[1], expected[1], max_relative = 1e-12);
                } else {
                    assert!(found[1].is_infinite(), "{found:?}");
                }
            }
            (found, expected) => assert_eq!(found, expected),
        }
    }

    fn column(length: f64) -> Bullet {
        Bullet::with_column(upright(), length).unwrap()
    }

    #[test]
    fn a_ray_from_the_centre_of_the_head_leaves_after_its_radius_to_the_bit() {
        let any = head([1.25, -7.5, 3.0], [0.3, -0.2, 0.9], 26.1);
        for k in 0..200 {
            let (u, v) = (f64::from(k) * 0.7, f64::from(k) / 100.0 - 1.0);
            let flat = (1.0 - v * v).sqrt();
            let toward = Vector3::new(flat * u.cos(), flat * u.sin(), v);
            let toward = UnitVector3::new_normalize(toward);
            if toward.dot(&any.axis()) < 0.0 {
                let found = Bullet::open(any).along(&any.centre(), &toward);
                assert_eq!(found, Some([0.0, 26.1]));
            }
        }
    }

    #[test]
    fn rays_along_the_axis_run_from_pole_to_top() {
        let (down, up) = ([0.0, 0.0, -1.0], [0.0, 0.0, 1.0]);
        check(column(7.0), [0.0, 0.0, 20.0], down, Some([13.0, 25.0]));
        check(column(7.0), [3.0, 0.0, 20.0], down, Some([13.0, 24.0]));
        check(column(7.0), [0.0, 0.0, -20.0], up, Some([15.0, 27.0]));
        check(column(0.0), [0.0, 0.0, -20.0], up, Some([15.0, 20.0]));
        check(column(7.0), [5.5, 0.0, -20.0], up, None);
        check(column(7.0), [0.0, 0.0, 20.0], up, None);
        let open = Bullet::open(upright());
        check(open, [0.0, 0.0, -20.0], up, Some([15.0, f64::INFINITY]));
        check(open, [0.0, 0.0, 20.0], up, Some([0.0, f64::INFINITY]));
        check(open, [0.0, 0.0, 20.0], down, Some([0.0, 25.0]));
    }

    #[test]
    fn level_rays_run_through_ball_or_column() {
        let x = [1.0, 0.0, 0.0];
        check(column(7.0), [-20.0, 0.0, -3.0], x, Some([16.0, 24.0]));
        check(column(7.0), [-20.0, 3.0, 2.0], x, Some([16.0, 24.0]));
        check(column(7.0), [-20.0, 0.0, 0.0], x, Some([15.0, 25.0]));
        check(column(0.0), [-20.0, 0.0, 0.0], x, Some([15.0, 25.0]));
        check(column(0.0), [-20.0, 0.0, 0.1], x, None);
        check(column(7.0), [-20.0, 0.0, 7.1], x, None);
        check(column(7.0), [-20.0, 0.0, -5.1], x, None);
        check(column(7.0), [1.0, 0.0, -3.0], x, Some([0.0, 3.0]));
        check(column(7.0), [20.0, 0.0, -3.0], x, None);
    }

    #[test]
    fn a_ray_that_only_touches_is_not_inside() {
        check(column(7.0), [-20.0, 5.0, 2.0], [1.0, 0.0, 0.0], None);
        check(column(7.0), [-20.0, 0.0, -5.0], [1.0, 0.0, 0.0], None);
        check(column(7.0), [5.0, 0.0, -20.0], [0.0, 0.0, 1.0], None);
        // Past the edge of the top, and just inside it.
        check(column(7.0), [-8.0 - 1e-9, 0.0, 4.0], [1.0, 0.0, 1.0], None);
        let (from, root) = ([-8.0 + 1e-3, 0.0, 4.0], 2.0_f64.sqrt());
        let corner = [(3.0 - 1e-3) * root, 3.0 * root];
        check(column(7.0), from, [1.0, 0.0, 1.0], Some(corner));
    }

    #[test]
    fn a_slanting_ray_passes_from_ball_to_column_without_a_gap() {
        // At 45° through the centre: 5 mm of ball, then √2 · 5 mm of column.
        let root = 2.0_f64.sqrt();
        let through = [20.0 - 5.0, 20.0 + 5.0 * root];
        let start = -20.0 / root;
        check(
            Bullet::open(upright()),
            [start, 0.0, start],
            [1.0, 0.0, 1.0],
            Some(through),
        );
        check(
            column(2.0),
            [start, 0.0, start],
            [1.0, 0.0, 1.0],
            Some([15.0, 20.0 + 2.0 * root]),
        );
    }

    /// 200 rays past and through a bullet in no special place.
    fn rays() -> impl Iterator<Item = (Point3<f64>, UnitVector3<f64>)> {
        let part = |k: u32, step: f64| (f64::from(k) * step).fract() - 0.5;
        (0..200).map(move |k| {
            let from = [part(k, 0.618_034), part(k, 0.414_214), part(k, 0.732_051)];
            let at = [part(k, 0.236_068), part(k, 0.645_751), part(k, 0.316_625)];
            let from = Point3::from(Vector3::from(from) * 40.0);
            let at = Point3::from(Vector3::from(at) * 10.0);
            (from, UnitVector3::new_normalize(at - from))
        })
    }

    #[test]
    fn the_stretch_is_where_samples_lie_inside() {
        const STEP: f64 = 0.05;
        let head = head([1.0, 2.0, -1.0], [1.0, -2.0, 2.0], 4.0);
        let bullets = [
            Bullet::open(head),
            Bullet::with_column(head, 6.0).unwrap(),
            Bullet::half_ball(head),
        ];
        let mut met = 0;
        for (bullet, (from, toward)) in bullets.iter().flat_map(|b| rays().map(move |r| (b, r))) {
            let found = bullet.along(&from, &toward);
            met += u32::from(found.is_some());
            let [enter, leave] = found.unwrap_or([f64::INFINITY, f64::NEG_INFINITY]);
            for k in 0..1200 {
                let t = (f64::from(k) + 0.5) * STEP;
                let depth = bullet.signed_distance(&(from + toward.into_inner() * t));
                let inside = enter < t && t < leave;
                assert!(
                    depth.abs() < 1e-9 || inside == (depth < 0.0),
                    "{bullet:?} from {from} toward {toward:?}: {found:?} at {t}, {depth} off"
                );
            }
        }
        assert!((150..500).contains(&met), "{met} of 600 rays meet it");
    }

    #[test]
    fn ends_lie_on_the_surface() {
        let bullet =
            Bullet::with_column(head([1.0, 2.0, -1.0], [1.0, -2.0, 2.0], 4.0), 6.0).unwrap();
        let mut ends = 0;
        for (from, toward) in rays() {
            let stretch = bullet.along(&from, &toward);
            for t in stretch.into_iter().flatten().filter(|t| *t > 0.0) {
                let off = bullet.signed_distance(&(from + toward.into_inner() * t));
                assert!(off.abs() < 1e-12, "{off} off at {t} from {from}");
                ends += 1;
            }
        }
        assert!(ends > 100, "{ends}");
    }
}
