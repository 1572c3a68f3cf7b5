//! The sphere nearest to a set of points.
//!
//! Two fits: [`SphereFit::least_squares`] minimises the squared distances of the points from the
//! sphere, [`SphereFit::robust`] lets points far off it count less and at last not at all. Both start
//! from the closed form below and are deterministic.

use nalgebra::{Matrix3, Matrix4, Point3, SymmetricEigen, Vector3, Vector4};
use thiserror::Error;

/// A sphere fitted to points, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SphereFit {
    /// Its centre.
    pub centre: Point3<f64>,
    /// Its radius.
    pub radius: f64,
    /// Root mean square distance of the points from it, weighted as in the fit.
    pub rms: f64,
}

/// Why points have no nearest sphere.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NoSphere {
    /// Fewer than four points.
    #[error("a sphere needs at least four points, not {0}")]
    TooFew(usize),
    /// The points lie in one plane, or nearly, and fix no sphere.
    #[error(
        "the points lie within {thickness} mm of a plane while {extent} mm across, and fix no sphere"
    )]
    Flat {
        /// Standard deviation of the points from the plane nearest to them, in mm.
        thickness: f64,
        /// Standard deviation of the points along their longest direction, in mm.
        extent: f64,
    },
    /// A coordinate is NaN or infinite, or so large that its square is.
    #[error("point {0} has a coordinate that is not a finite number")]
    NotFinite(usize),
}

/// Points thinner than this share of their extent count as flat: rounding of coordinates would
/// otherwise decide the radius. A cap of half-angle 0.1° is 3·10⁻⁴ as thick as wide, a plane far from
/// the origin, in rounding, 10⁻¹².
const FLAT: f64 = 1e-9;

impl SphereFit {
    /// The sphere with the least sum of squared distances from `points`, mm.
    ///
    /// Start: the algebraic fit, which minimises the squares of |p|² − 2c·p − k and has a closed form
    /// about the points' mean (Coope 1993, J Optim Theory Appl 76:381, from memory): with q = p − mean,
    /// c = ½ (Σ q qᵀ)⁻¹ Σ |q|² q and r² = Σ |q|² / n + |c|². Then Gauss–Newton steps on |p − c| − r.
    ///
    /// # Errors
    /// When there are fewer than four points, a coordinate is not finite, or all lie in a plane.
    pub fn least_squares(points: &[Point3<f64>]) -> Result<Self, NoSphere> {
        Self::weighted(points, &vec![1.0; points.len()])
    }

    /// The sphere that most of `points` lie on, mm: the outlying ones are left out by degrees.
    ///
    /// Least squares over and over with Tukey's biweight (1 − (e / 4.685 σ)²)², σ = 1.4826 × the median
    /// distance from the last sphere. Up to a fifth of the points may lie anywhere on one side of the
    /// sphere; with more the start can be too far off to find it.
    ///
    /// # Errors
    /// As for [`least_squares`](Self::least_squares).
    pub fn robust(points: &[Point3<f64>]) -> Result<Self, NoSphere> {
        const ROUNDS: usize = 60;
        let mut fit = Self::least_squares(points)?;
        for _ in 0..ROUNDS {
            let off: Vec<f64> = points.iter().map(|p| fit.distance_to(p)).collect();
            let mut sorted: Vec<f64> = off.iter().map(|e| e.abs()).collect();
            sorted.sort_by(f64::total_cmp);
            let sigma = 1.4826 * sorted[sorted.len() / 2];
            let reach = (4.685 * sigma).max(1e-9 * fit.radius);
            let weights: Vec<f64> = off.iter().map(|e| biweight(*e, reach)).collect();
            let next = Self::weighted(points, &weights)?;
            let moved = (next.centre - fit.centre).norm() + (next.radius - fit.radius).abs();
            fit = next;
            if moved < 1e-10 * fit.radius {
                break;
            }
        }
        Ok(fit)
    }

    /// The same as [`least_squares`](Self::least_squares) with a weight, not negative, for each point.
    pub(crate) fn weighted(points: &[Point3<f64>], weights: &[f64]) -> Result<Self, NoSphere> {
        if points.len() < 4 {
            return Err(NoSphere::TooFew(points.len()));
        }
        if let Some(bad) = points
            .iter()
            .position(|p| !p.coords.norm_squared().is_finite())
        {
            return Err(NoSphere::NotFinite(bad));
        }
        let sample = Sample::new(points, weights);
        let mut fit = sample.algebraic_fit()?;
        for _ in 0..50 {
            let Some(next) = sample.step_from(&fit) else {
                break;
            };
            let moved = (next.centre - fit.centre).norm() + (next.radius - fit.radius).abs();
            fit = next;
            if moved < 1e-13 * fit.radius {
                break;
            }
        }
        fit.centre += sample.mean;
        Ok(fit)
    }

    /// Signed distance of `point` from the sphere, in mm; positive outside.
    pub fn distance_to(&self, point: &Point3<f64>) -> f64 {
        (point - self.centre).norm() - self.radius
    }
}

/// Tukey's biweight: 1 on the sphere, 0 from `reach` on.
pub(crate) fn biweight(distance: f64, reach: f64) -> f64 {
    let share = distance / reach;
    if share.abs() < 1.0 {
        (1.0 - share * share).powi(2)
    } else {
        0.0
    }
}

/// Points about their mean, so that a sphere far from the origin loses no digits.
struct Sample {
    mean: Vector3<f64>,
    about_mean: Vec<(Vector3<f64>, f64)>,
    total: f64,
}

impl Sample {
    fn new(points: &[Point3<f64>], weights: &[f64]) -> Self {
        let total: f64 = weights.iter().sum();
        let sum: Vector3<f64> = points.iter().zip(weights).map(|(p, w)| p.coords * *w).sum();
        let mean = sum / total;
        let about_mean = points
            .iter()
            .zip(weights)
            .filter(|(_, w)| **w > 0.0)
            .map(|(p, w)| (p.coords - mean, *w))
            .collect();
        Self {
            mean,
            about_mean,
            total,
        }
    }

    fn algebraic_fit(&self) -> Result<SphereFit, NoSphere> {
        let mut spread = Matrix3::zeros();
        let mut skew = Vector3::zeros();
        for (q, w) in &self.about_mean {
            spread += q * q.transpose() * *w;
            skew += q * (q.norm_squared() * w);
        }
        let mean_square = spread.trace() / self.total;
        let eigen = SymmetricEigen::new(spread);
        let (least, most) = (eigen.eigenvalues.min(), eigen.eigenvalues.max());
        let [thickness, extent] = [least, most].map(|v| (v.max(0.0) / self.total).sqrt());
        if self.about_mean.len() < 4 {
            return Err(NoSphere::TooFew(self.about_mean.len()));
        }
        if thickness.is_nan() || thickness <= FLAT * extent {
            return Err(NoSphere::Flat { thickness, extent });
        }
        let in_axes = (eigen.eigenvectors.transpose() * skew).component_div(&eigen.eigenvalues);
        let centre = eigen.eigenvectors * in_axes / 2.0;
        let radius = (mean_square + centre.norm_squared()).sqrt();
        Ok(self.measured(centre, radius))
    }

    /// One Gauss–Newton step, halved until it lowers the sum of squares; `None` when none does.
    fn step_from(&self, fit: &SphereFit) -> Option<SphereFit> {
        let mut normal = Matrix4::zeros();
        let mut right = Vector4::zeros();
        for (q, w) in &self.about_mean {
            let away = q - fit.centre.coords;
            let distance = away.norm();
            let unit = away / distance.max(f64::MIN_POSITIVE);
            let row = Vector4::new(unit.x, unit.y, unit.z, 1.0);
            normal += row * row.transpose() * *w;
            right += row * ((distance - fit.radius) * w);
        }
        let mut step = normal.cholesky()?.solve(&right);
        for _ in 0..20 {
            let next = self.measured(fit.centre.coords + step.xyz(), fit.radius + step.w);
            if next.rms < fit.rms {
                return Some(next);
            }
            step /= 2.0;
        }
        None
    }

    fn measured(&self, centre: Vector3<f64>, radius: f64) -> SphereFit {
        let squares = |(q, w): &(Vector3<f64>, f64)| w * ((q - centre).norm() - radius).powi(2);
        let sum: f64 = self.about_mean.iter().map(squares).sum();
        SphereFit {
            centre: centre.into(),
            radius,
            rms: (sum / self.total).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Points on a cap of half-angle `half`, on a spiral, about +z.
    fn cap(centre: Point3<f64>, radius: f64, half: f64, count: u32) -> Vec<Point3<f64>> {
        (0..count)
            .map(|i| {
                let z = 1.0 - (1.0 - half.cos()) * (f64::from(i) + 0.5) / f64::from(count);
                let (sin, cos) = (2.399_963 * f64::from(i)).sin_cos();
                let rho = (1.0 - z * z).sqrt();
                centre + radius * Vector3::new(rho * cos, rho * sin, z)
            })
            .collect()
    }

    #[test]
    fn points_on_a_small_far_cap_give_their_sphere() {
        let centre = Point3::new(-900.0, 40.0, 1200.0);
        let fit = SphereFit::least_squares(&cap(centre, 26.0, 0.5, 200)).unwrap();
        assert_abs_diff_eq!(fit.centre, centre, epsilon = 1e-8);
        assert_abs_diff_eq!(fit.radius, 26.0, epsilon = 1e-8);
        assert!(fit.rms < 1e-10);
    }

    #[test]
    fn the_fit_is_where_the_sum_of_squares_is_least() {
        let mut points = cap(Point3::origin(), 25.0, 1.4, 300);
        for (i, p) in points.iter_mut().enumerate() {
            let ripple = [0.9, -0.4, 0.2, -1.1][i % 4];
            *p += p.coords.normalize() * ripple;
        }
        let fit = SphereFit::least_squares(&points).unwrap();
        let sum = |centre: Point3<f64>, radius: f64| -> f64 {
            points
                .iter()
                .map(|p| ((p - centre).norm() - radius).powi(2))
                .sum()
        };
        let least = sum(fit.centre, fit.radius);
        assert_abs_diff_eq!((least / 300.0).sqrt(), fit.rms, epsilon = 1e-12);
        for step in [Vector3::x(), Vector3::y(), Vector3::z()] {
            for sign in [-1e-3, 1e-3] {
                assert!(sum(fit.centre + step * sign, fit.radius) > least);
                assert!(sum(fit.centre, fit.radius + sign) > least);
            }
        }
    }

    #[test]
    fn the_robust_fit_leaves_out_what_lies_off_the_sphere() {
        let mut points = cap(Point3::new(1.0, 2.0, 3.0), 25.0, 1.4, 500);
        for p in points.iter_mut().step_by(5) {
            p.x += 9.0;
        }
        let plain = SphereFit::least_squares(&points).unwrap();
        let robust = SphereFit::robust(&points).unwrap();
        assert!((plain.centre - Point3::new(1.0, 2.0, 3.0)).norm() > 1.0);
        assert_abs_diff_eq!(robust.centre, Point3::new(1.0, 2.0, 3.0), epsilon = 1e-6);
        assert_abs_diff_eq!(robust.radius, 25.0, epsilon = 1e-6);
    }

    #[test]
    fn four_points_fix_a_sphere_exactly() {
        let points = [
            [1.0, 0.0, 0.0],
            [0.0, 1.0, 0.0],
            [0.0, 0.0, 1.0],
            [-1.0, 0.0, 0.0],
        ];
        let fit = SphereFit::robust(&points.map(Point3::from)).unwrap();
        assert_abs_diff_eq!(fit.centre, Point3::origin(), epsilon = 1e-12);
        assert_abs_diff_eq!(fit.radius, 1.0, epsilon = 1e-12);
    }

    #[test]
    fn points_that_fix_no_sphere_are_refused() {
        let circle: Vec<_> = (0..20)
            .map(|i| Point3::new(f64::from(i).cos(), f64::from(i).sin(), 700.0))
            .collect();
        assert!(matches!(
            SphereFit::least_squares(&circle),
            Err(NoSphere::Flat { .. })
        ));
        assert_eq!(SphereFit::robust(&circle[..3]), Err(NoSphere::TooFew(3)));
        let same = [Point3::new(1.0, 1.0, 1.0); 6];
        assert!(matches!(
            SphereFit::least_squares(&same),
            Err(NoSphere::Flat { .. })
        ));
        let mut nan = cap(Point3::origin(), 25.0, 1.0, 10);
        nan[7].y = f64::INFINITY;
        assert_eq!(SphereFit::least_squares(&nan), Err(NoSphere::NotFinite(7)));
    }
}
