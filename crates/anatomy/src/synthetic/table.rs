//! Smooth functions of two variables, tabulated once and read often.

use rayon::prelude::*;

/// `N` functions on a rectangle, read back as cubic B-splines of their samples.
///
/// The spline smooths: corners of the sampled functions come back rounded over about one step, and its
/// second derivatives are continuous. Outside the rectangle the edge's value holds.
pub(super) struct Table<const N: usize> {
    low: [f64; 2],
    step: f64,
    size: [usize; 2],
    samples: Vec<[f64; N]>,
}

impl<const N: usize> Table<N> {
    /// Samples `function` every `step` from `low` to `high`.
    pub(super) fn of(
        low: [f64; 2],
        high: [f64; 2],
        step: f64,
        function: impl Fn(f64, f64) -> [f64; N] + Sync,
    ) -> Self {
        let size: [usize; 2] =
            std::array::from_fn(|c| whole((high[c] - low[c]) / step).saturating_add(4));
        let place = |c: usize, i: usize| low[c] + step * (index(i) - 1.0);
        let samples = (0..size[0] * size[1])
            .into_par_iter()
            .map(|k| function(place(0, k % size[0]), place(1, k / size[0])))
            .collect();
        Self {
            low,
            step,
            size,
            samples,
        }
    }

    /// The functions at `(u, v)`, and how far `(u, v)` lies outside the rectangle.
    pub(super) fn at(&self, u: f64, v: f64) -> ([f64; N], f64) {
        let mut first = [0; 2];
        let mut weights = [[0.0; 4]; 2];
        let mut outside = 0.0;
        for (c, x) in [u, v].into_iter().enumerate() {
            let most = index(self.size[c] - 4);
            let place = (x - self.low[c]) / self.step;
            let inside = place.clamp(0.0, most);
            outside += (place - inside) * (place - inside);
            let cell = whole(inside).min(self.size[c] - 4);
            first[c] = cell;
            weights[c] = spline_weights(inside - index(cell));
        }
        let mut sum = [0.0; N];
        for (j, wv) in weights[1].iter().enumerate() {
            let row = (first[1] + j) * self.size[0] + first[0];
            for (sample, wu) in self.samples[row..row + 4].iter().zip(weights[0]) {
                for (total, value) in sum.iter_mut().zip(sample) {
                    *total += wu * wv * value;
                }
            }
        }
        (sum, self.step * outside.sqrt())
    }
}

/// The four cubic B-spline weights at `t` of 0 to 1.
fn spline_weights(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    [
        s * s * s / 6.0,
        (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
        (3.0 * s * s * s - 6.0 * s * s + 4.0) / 6.0,
        t * t * t / 6.0,
    ]
}

/// `x` without its fraction; zero for what is negative.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped at zero; tables are far smaller than 2^32"
)]
pub(super) fn whole(x: f64) -> usize {
    x.max(0.0) as usize
}

/// A small index as a number.
#[expect(
    clippy::cast_precision_loss,
    reason = "tables are far smaller than 2^52"
)]
pub(super) fn index(i: usize) -> f64 {
    i as f64
}

/// Signed distance from `p` to a closed polygon, negative inside (even–odd).
pub(super) fn distance_to_polygon(polygon: &[[f64; 2]], p: [f64; 2]) -> f64 {
    nearest_on_polygon(polygon, p).0
}

/// Signed distance from `p` to a closed polygon, negative inside, and the place of the nearest point
/// as corner number plus fraction of the side after it.
pub(super) fn nearest_on_polygon(polygon: &[[f64; 2]], p: [f64; 2]) -> (f64, f64) {
    let mut least = f64::MAX;
    let mut place = 0.0;
    let mut inside = false;
    let mut a = polygon[polygon.len() - 1];
    for (i, &b) in polygon.iter().enumerate() {
        let (side, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let length = side[0] * side[0] + side[1] * side[1];
        let t = ((to[0] * side[0] + to[1] * side[1]) / length).clamp(0.0, 1.0);
        let away = [to[0] - t * side[0], to[1] - t * side[1]];
        let square = away[0] * away[0] + away[1] * away[1];
        if square < least {
            least = square;
            place = index(i) - 1.0 + t;
        }
        if (a[1] > p[1]) != (b[1] > p[1]) && to[0] < side[0] * to[1] / side[1] {
            inside = !inside;
        }
        a = b;
    }
    let distance = least.sqrt();
    (if inside { -distance } else { distance }, place)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_table_returns_a_plane_exactly_and_says_how_far_outside_it_was_asked() {
        let table = Table::of([-3.0, 2.0], [9.0, 8.0], 0.5, |u, v| [2.0 * u - v + 1.0]);
        let ([inside], none) = table.at(4.3, 5.7);
        assert_relative_eq!(inside, 3.9, epsilon = 1e-12);
        assert_relative_eq!(none, 0.0);
        let (_, far) = table.at(-6.0, 5.0);
        assert_relative_eq!(far, 3.0, epsilon = 1e-12);
    }

    #[test]
    fn distance_to_a_square_is_negative_inside() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        assert_relative_eq!(distance_to_polygon(&square, [1.0, 2.0]), -1.0);
        assert_relative_eq!(distance_to_polygon(&square, [7.0, 8.0]), 5.0);
    }
}
