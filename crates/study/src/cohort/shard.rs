//! A share of a cohort, so that several machines can work on it.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

use thiserror::Error;

/// The share `number` of `of`, counted from 1.
///
/// Shares are runs of members in their order, of sizes that differ by one at most; together they are
/// the whole, each member once.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Shard {
    number: usize,
    of: usize,
}

/// A share that cannot be.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("'{0}' is no share of a cohort; give K/N with K from 1 to N, as in 3/16")]
pub struct BadShard(pub String);

impl Shard {
    /// All of it.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// The share `number` of `of`.
    ///
    /// # Errors
    /// When `number` is not 1 to `of`.
    pub fn new(number: usize, of: usize) -> Result<Self, BadShard> {
        if (1..=of).contains(&number) {
            Ok(Self { number, of })
        } else {
            Err(BadShard(format!("{number}/{of}")))
        }
    }

    /// Which share, from 1.
    pub fn number(self) -> usize {
        self.number
    }

    /// Of how many.
    pub fn of(self) -> usize {
        self.of
    }

    /// The members of this share of `members`, counted from 0.
    pub fn members(self, members: usize) -> Range<usize> {
        // Rounded down at both ends, in numbers that cannot overflow: one share ends where the next begins.
        let end = |k: usize| {
            let product = (k as u128) * (members as u128) / (self.of as u128);
            usize::try_from(product).unwrap_or(members)
        };
        end(self.number - 1)..end(self.number)
    }
}

impl FromStr for Shard {
    type Err = BadShard;

    fn from_str(text: &str) -> Result<Self, BadShard> {
        let bad = || BadShard(text.into());
        let (number, of) = text.split_once('/').ok_or_else(bad)?;
        let read = |part: &str| part.trim().parse::<usize>().map_err(|_| bad());
        Self::new(read(number)?, read(of)?).map_err(|_| bad())
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_the_whole_each_member_once_and_about_equal() {
        for (members, of) in [
            (0, 3),
            (1, 3),
            (10, 16),
            (10_000, 16),
            (101, 7),
            (usize::MAX, 3),
        ] {
            let mut next = 0;
            let mut sizes = Vec::new();
            for number in 1..=of {
                let share = Shard::new(number, of).unwrap().members(members);
                assert_eq!(share.start, next);
                next = share.end;
                sizes.push(share.len());
            }
            assert_eq!(next, members);
            let spread = sizes.iter().max().unwrap() - sizes.iter().min().unwrap();
            assert!(spread <= 1, "{sizes:?}");
        }
    }

    #[test]
    fn what_is_no_share_is_refused_as_typed() {
        for text in ["0/4", "5/4", "3", "3/0", "-1/4", "3/4/5", "a/b", ""] {
            let told = text.parse::<Shard>().unwrap_err().to_string();
            assert!(told.starts_with(&format!("'{text}'")), "{told}");
        }
        assert_eq!("3/16".parse(), Shard::new(3, 16));
    }
}
