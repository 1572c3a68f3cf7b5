//! Points that fill a box evenly however many there are (J. H. Halton 1960, Numer Math 2:84).

/// As many bases as there are variables.
const PRIMES: [u32; 9] = [2, 3, 5, 7, 11, 13, 17, 19, 23];

/// The first points of the sequence in the unit box, but for a beginning in which high bases go together.
pub(super) fn points(dimensions: usize, count: u32) -> impl Iterator<Item = Vec<f64>> {
    const SKIPPED: u32 = 32;
    (SKIPPED..SKIPPED + count).map(move |k| {
        let bases = PRIMES.iter().take(dimensions);
        bases.map(|&base| reversed(k, base)).collect()
    })
}

/// The digits of a number behind the point, in reverse.
fn reversed(mut number: u32, base: u32) -> f64 {
    let (mut share, mut value) = (1.0, 0.0);
    while number > 0 {
        share /= f64::from(base);
        value += share * f64::from(number % base);
        number /= base;
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_stand_in_reverse() {
        assert!((reversed(6, 2) - 0.375).abs() < 1e-15);
        assert!((reversed(5, 3) - 7.0 / 9.0).abs() < 1e-15);
    }

    #[test]
    fn every_half_of_every_side_gets_about_half() {
        let all: Vec<_> = points(9, 400).collect();
        for side in 0..9 {
            let low = all.iter().filter(|p| p[side] < 0.5).count();
            assert!((185..=215).contains(&low), "side {side}: {low}");
        }
    }
}
