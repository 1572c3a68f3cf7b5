//! The operation as the surgeon plans it: instruments, case, plan, and what it would find.

pub mod findings;

pub use findings::Findings;
