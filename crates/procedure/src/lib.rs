//! The operation as the surgeon plans it: instruments, case, plan, and what it would find.
//!
//! A run goes one way: [`case`] (what was typed, what it means), [`bone`] (the solid it works on),
//! [`simulate`](simulate()) (every reamer, then the cup), [`findings`] (plain numbers). [`removal`],
//! [`walls`] and [`instruments`] serve it. [`edit`], [`compare`] and [`lesson`] are for those who change a
//! case step by step and learn from it; the numbers they speak of are those of [`quantity`].

pub mod bone;
pub mod case;
pub mod compare;
pub mod edit;
pub mod findings;
pub mod instruments;
pub mod lesson;
pub mod quantity;
pub mod removal;
pub mod simulate;
pub mod walls;

#[cfg(test)]
mod sample;
mod syntax;
mod watch;

pub use bone::Bone;
pub use case::{Case, CaseFile};
pub use findings::Findings;
pub use instruments::Instruments;
pub use simulate::simulate;
