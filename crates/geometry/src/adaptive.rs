//! Integrals over triangles by repeated halving of their edges, with a bound on the error.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::sum::Sum;

/// A value and how far it can be from the truth.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bounded {
    /// The value.
    pub value: f64,
    /// The largest error it can have.
    pub error_bound: f64,
}

impl Bounded {
    /// A value that is exact up to rounding.
    pub fn exact(value: f64) -> Self {
        Self {
            value,
            error_bound: 0.0,
        }
    }
}

/// A plane triangle, seen from the point that its integral is taken about.
pub(crate) type Cell = [Vector3<f64>; 3];

/// How many of the worst cells are split before the bounds are looked at again: enough to keep some
/// threads at work, few beside the thousands that an integral takes.
const BATCH: usize = 64;

/// Sum of `estimate` over the cells, the worst of them split in four until the bounds add up to
/// `tolerance`, or there are `most` cells.
pub(crate) fn integrate(
    cells: Vec<Cell>,
    tolerance: f64,
    most: usize,
    estimate: impl Fn(&Cell) -> Bounded + Sync,
) -> Bounded {
    let mut settled = Vec::new();
    let mut open = BinaryHeap::new();
    let mut bound = Sum::default();
    let mut order = 0;
    let mut count = 0;
    let mut next = cells;
    loop {
        // Estimated side by side, taken up in order: the same bits on any number of threads.
        let estimates: Vec<Bounded> = next.par_iter().with_min_len(16).map(&estimate).collect();
        for (cell, of_cell) in next.drain(..).zip(estimates) {
            if of_cell.error_bound > 0.0 {
                bound.add(of_cell.error_bound);
                open.push(Open {
                    cell,
                    of_cell,
                    order,
                });
                order += 1;
            } else {
                settled.push(of_cell.value);
            }
        }
        count = count.max(open.len());
        while bound.total() > tolerance && count < most && next.len() < 4 * BATCH {
            let Some(worst) = open.pop() else { break };
            bound.add(-worst.of_cell.error_bound);
            next.extend(quarters(&worst.cell));
            count += 3;
        }
        if next.is_empty() {
            break;
        }
    }
    let open = open.into_sorted_vec();
    let values = settled
        .into_iter()
        .chain(open.iter().map(|cell| cell.of_cell.value));
    Bounded {
        value: values.collect::<Sum>().total(),
        error_bound: open
            .iter()
            .map(|cell| cell.of_cell.error_bound)
            .collect::<Sum>()
            .total(),
    }
}

/// A cell split in four at the middles of its edges.
pub(crate) fn quarters([a, b, c]: &Cell) -> [Cell; 4] {
    let (ab, bc, ca) = ((a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0);
    [[*a, ab, ca], [ab, *b, bc], [ca, bc, *c], [ab, bc, ca]]
}

/// A cell still to be split, the one with the largest bound first and the older first among equals.
struct Open {
    cell: Cell,
    of_cell: Bounded,
    order: usize,
}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_bound = self
            .of_cell
            .error_bound
            .total_cmp(&other.of_cell.error_bound);
        by_bound.then(other.order.cmp(&self.order))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Open {}

/// Points and weights on the unit triangle, exact to degree 5 (Radon 1948): barycentric
/// coordinates and the share of the area.
pub(crate) fn radon_points() -> [([f64; 3], f64); 7] {
    let root = 15.0_f64.sqrt();
    let (near, far) = ((6.0 - root) / 21.0, (6.0 + root) / 21.0);
    let (w_near, w_far) = ((155.0 - root) / 1200.0, (155.0 + root) / 1200.0);
    let third = 1.0 / 3.0;
    let around = |s: f64, w: f64| {
        let t = 1.0 - 2.0 * s;
        [([t, s, s], w), ([s, t, s], w), ([s, s, t], w)]
    };
    let ([a, b, c], [d, e, f]) = (around(near, w_near), around(far, w_far));
    [([third, third, third], 9.0 / 40.0), a, b, c, d, e, f]
}

/// A point of a cell from its barycentric coordinates.
pub(crate) fn point_in([a, b, c]: &Cell, at: [f64; 3]) -> Vector3<f64> {
    a * at[0] + b * at[1] + c * at[2]
}
