//! Where the line through a polygon's edge lies inside a circle.

/// The part of an edge inside a circle, as fractions of the way from its start to its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chord {
    /// Where the inside begins; 0 when the start is inside.
    pub(crate) enter: f64,
    /// Where it ends; 1 when the end is inside.
    pub(crate) leave: f64,
}

impl Chord {
    /// The chord of an edge, given its length squared `a`, the product `b` of start and edge, and
    /// the start's distance squared less the radius squared, `c`; all relative to the middle of the
    /// circle. `None` when the edge stays outside or only touches.
    pub(crate) fn of(a: f64, b: f64, c: f64) -> Option<Self> {
        let discriminant = b * b - a * c;
        if discriminant <= 0.0 || a <= 0.0 {
            return None;
        }
        // The root of larger size first, so that neither loses digits.
        let q = -(b + discriminant.sqrt().copysign(b));
        let (first, second) = (q / a, c / q);
        let (enter, leave) = (first.min(second), first.max(second));
        (enter < 1.0 && leave > 0.0).then(|| Self {
            enter: enter.max(0.0),
            leave: leave.min(1.0),
        })
    }
}
