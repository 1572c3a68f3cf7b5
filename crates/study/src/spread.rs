//! [`Spread`]: how an error is distributed, and draws of it that come out alike on every machine.

use rand_chacha::ChaCha12Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, LogNormal, Normal, Uniform};
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

/// How an error is distributed, in the unit of its variable.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Spread {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        deviation: f64,
    },
    /// The logarithm is normal: never negative, longer above than below.
    LogNormal {
        /// Median.
        median: f64,
        /// Standard deviation of the natural logarithm.
        log_deviation: f64,
    },
    /// Evenly between two values.
    Uniform {
        /// The least.
        least: f64,
        /// The most.
        most: f64,
    },
}

/// Numbers that make no distribution.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error(
    "{0} is no distribution: a deviation must not be negative, a median must be positive, a range must ascend"
)]
pub struct BadSpread(pub Spread);

impl Spread {
    /// The log-normal distribution with this median whose quartiles are as far apart, by their ratio, as
    /// two that are printed: log deviation = ln(upper / lower) / (2 · 0.67449).
    pub fn of_quartiles(median: f64, [lower, upper]: [f64; 2]) -> Self {
        /// Upper quartile of the standard normal distribution.
        const QUARTILE: f64 = 0.674_489_750_196_081_7;
        Self::LogNormal {
            median,
            log_deviation: (upper / lower).ln() / (2.0 * QUARTILE),
        }
    }

    /// Itself, if it is a distribution.
    ///
    /// # Errors
    /// When a number is not finite, a deviation negative, a median not positive, or a range empty.
    pub fn checked(self) -> Result<Self, BadSpread> {
        let fine = match self {
            Self::Normal { mean, deviation } => mean.is_finite() && is_size(deviation),
            Self::LogNormal {
                median,
                log_deviation,
            } => median > 0.0 && median.is_finite() && is_size(log_deviation),
            Self::Uniform { least, most } => least.is_finite() && most.is_finite() && least < most,
        };
        if fine { Ok(self) } else { Err(BadSpread(self)) }
    }

    /// `count` draws. `seed` and `stream` decide all of them: streams of one seed have nothing to do with
    /// each other, and more draws begin with the same ones.
    ///
    /// The generator is `ChaCha` with 12 rounds (D. J. Bernstein 2008), on every machine.
    ///
    /// # Errors
    /// When it is no distribution.
    pub fn draws(self, count: usize, seed: u64, stream: u64) -> Result<Vec<f64>, BadSpread> {
        self.checked()?;
        let mut source = ChaCha12Rng::seed_from_u64(seed);
        source.set_stream(stream);
        let drawn = |distribution: &dyn Fn(&mut ChaCha12Rng) -> f64, source: &mut ChaCha12Rng| {
            (0..count).map(|_| distribution(source)).collect()
        };
        match self {
            Self::Normal { mean, deviation } => {
                let normal = Normal::new(mean, deviation).map_err(|_| BadSpread(self))?;
                Ok(drawn(&|source| normal.sample(source), &mut source))
            }
            Self::LogNormal {
                median,
                log_deviation,
            } => {
                let log_normal =
                    LogNormal::new(median.ln(), log_deviation).map_err(|_| BadSpread(self))?;
                Ok(drawn(&|source| log_normal.sample(source), &mut source))
            }
            Self::Uniform { least, most } => {
                let uniform = Uniform::new(least, most).map_err(|_| BadSpread(self))?;
                Ok(drawn(&|source| uniform.sample(source), &mut source))
            }
        }
    }
}

fn is_size(value: f64) -> bool {
    value.is_finite() && value >= 0.0
}

impl std::fmt::Display for Spread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Normal { mean, deviation } => {
                write!(f, "normal, mean {mean}, standard deviation {deviation}")
            }
            Self::LogNormal {
                median,
                log_deviation,
            } => write!(
                f,
                "log-normal, median {median}, log deviation {log_deviation:.3}"
            ),
            Self::Uniform { least, most } => write!(f, "even from {least} to {most}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sorted(spread: Spread) -> Vec<f64> {
        let mut draws = spread.draws(20_000, 7, 3).unwrap();
        draws.sort_by(f64::total_cmp);
        draws
    }

    #[test]
    fn draws_lie_as_they_should() {
        let normal = sorted(Spread::Normal {
            mean: 5.0,
            deviation: 2.0,
        });
        let mean = normal.iter().sum::<f64>() / 20_000.0;
        let variance = normal.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!((mean - 5.0).abs() < 0.06 && (variance.sqrt() - 2.0).abs() < 0.04);
        let even = sorted(Spread::Uniform {
            least: -1.0,
            most: 3.0,
        });
        assert!(even[0] >= -1.0 && even[19_999] < 3.0);
        assert!((even[10_000] - 1.0).abs() < 0.05);
    }

    #[test]
    fn quartiles_come_out_as_they_were_put_in() {
        // The straight technique of Karia 2023: median 1.2, quartiles 1.0 and 1.6.
        let draws = sorted(Spread::of_quartiles(1.2, [1.0, 1.6]));
        assert!((draws[10_000] - 1.2).abs() < 0.01, "{}", draws[10_000]);
        let ratio = draws[15_000] / draws[5_000];
        assert!((ratio - 1.6).abs() < 0.03, "{ratio}");
    }

    #[test]
    fn a_seed_decides_and_streams_differ() {
        let spread = Spread::Normal {
            mean: 0.0,
            deviation: 1.0,
        };
        let draws = |count, seed, stream| spread.draws(count, seed, stream).unwrap();
        assert_eq!(draws(5, 1, 0), draws(9, 1, 0)[..5]);
        assert_ne!(draws(5, 1, 0), draws(5, 1, 1));
        assert_ne!(draws(5, 1, 0), draws(5, 2, 0));
    }

    #[test]
    fn what_is_no_distribution_is_refused() {
        let nan = f64::NAN;
        for bad in [
            Spread::Normal {
                mean: nan,
                deviation: 1.0,
            },
            Spread::Normal {
                mean: 0.0,
                deviation: -1.0,
            },
            Spread::LogNormal {
                median: 0.0,
                log_deviation: 1.0,
            },
            Spread::LogNormal {
                median: 1.0,
                log_deviation: nan,
            },
            Spread::Uniform {
                least: 1.0,
                most: 1.0,
            },
            Spread::Uniform {
                least: 0.0,
                most: f64::INFINITY,
            },
        ] {
            assert!(bad.draws(1, 0, 0).is_err(), "{bad}");
        }
    }
}
