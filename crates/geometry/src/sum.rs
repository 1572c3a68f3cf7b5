//! Sums whose error does not grow with the number of terms (Neumaier 1974).

use rayon::prelude::*;

/// A running sum of signed terms, compensated for the digits that each addition drops.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sum {
    total: f64,
    dropped: f64,
}

impl Sum {
    /// Adds `term`.
    pub(crate) fn add(&mut self, term: f64) {
        let next = self.total + term;
        self.dropped += if self.total.abs() >= term.abs() {
            (self.total - next) + term
        } else {
            (term - next) + self.total
        };
        self.total = next;
    }

    /// The sum so far.
    pub(crate) fn total(self) -> f64 {
        self.total + self.dropped
    }
}

impl FromIterator<f64> for Sum {
    fn from_iter<I: IntoIterator<Item = f64>>(terms: I) -> Self {
        let mut sum = Self::default();
        terms.into_iter().for_each(|term| sum.add(term));
        sum
    }
}

/// Sums of `N` quantities over `items`, in parallel, with the same bits on any number of threads.
///
/// The items are cut into chunks of fixed length; chunks are summed side by side and their sums
/// added in order.
pub(crate) fn sums<T: Sync, const N: usize>(
    items: &[T],
    terms: impl Fn(&T) -> [f64; N] + Sync,
) -> [f64; N] {
    const CHUNK: usize = 512;
    let of_chunk = |chunk: &[T]| {
        let mut sums = [Sum::default(); N];
        for item in chunk {
            for (sum, term) in sums.iter_mut().zip(terms(item)) {
                sum.add(term);
            }
        }
        sums.map(Sum::total)
    };
    let partial: Vec<[f64; N]> = if items.len() <= 2 * CHUNK {
        items.chunks(CHUNK).map(of_chunk).collect()
    } else {
        items.par_chunks(CHUNK).map(of_chunk).collect()
    };
    std::array::from_fn(|k| partial.iter().map(|sums| sums[k]).collect::<Sum>().total())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_term_larger_than_the_sum_so_far_loses_nothing() {
        let sum = [1.0, 1e100, 1.0, -1e100].into_iter().collect::<Sum>();
        assert_eq!(sum.total().to_bits(), 2.0_f64.to_bits());
    }

    #[test]
    fn chunked_sums_have_the_same_bits_on_any_number_of_threads() {
        let items: Vec<f64> = (0..100_000).map(|i| f64::from(i).sin() * 1e3).collect();
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap();
            pool.install(|| sums(&items, |&x| [x, x * x]))
                .map(f64::to_bits)
        };
        assert_eq!(on(1), on(4));
    }
}
