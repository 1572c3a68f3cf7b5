//! The operation as the surgeon plans it: instruments, case, plan, and what it would find.
//!
//! A run goes one way: [`case`] (what was typed, what it means), [`bone`] (the solid it works on),
//! [`simulate`](simulate()) (every reamer, then the cup), [`findings`] (plain numbers). [`placed`],
//! [`removal`], [`walls`] and [`instruments`] serve it; [`shapes`](shapes()) are what there is to see.

pub mod bone;
pub mod case;
pub mod findings;
pub mod instruments;
pub mod placed;
pub mod removal;
pub mod shapes;
pub mod simulate;
pub mod walls;

mod syntax;
mod watch;

pub use bone::Bone;
pub use case::{Case, CaseFile};
pub use findings::Findings;
pub use instruments::Instruments;
pub use placed::Placed;
pub use shapes::{Shapes, shapes};
pub use simulate::simulate;
