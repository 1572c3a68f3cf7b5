//! The operation as the surgeon plans it: instruments, case, plan, and what it would find.
//!
//! A run goes one way: [`case`] (what was typed, what it means), [`bone`] (the solid it works on),
//! [`simulate`](simulate()) (every reamer, then the cup), [`findings`] (plain numbers). [`placed`],
//! [`removal`], [`text`] and [`instruments`] serve it, and so do [`reading`], [`mod@unit`] and [`piece`]: how
//! a file is to be taken; [`mod@inspection`] is what a mesh holds, and [`mod@measures`] are the bare ones,
//! without case or frame. [`edit`], [`compare`] and [`lesson`] are
//! for those who change a case step by step and learn from it; the numbers they speak of are those of
//! [`quantity`]. [`mod@shapes`] and [`maps`] hold what can be drawn of a case: meshes, and values over them.
//! Will the cup hold, what bone is left and where may screws go: [`hold`], [`stock`] and [`screws`],
//! asked together by [`mechanics`](mod@mechanics) over the rays of a [`fan`]. [`mod@joint`] is what is put
//! into the cup: wall, leg length, motion. [`survey`] is what can be told of a bare bone: landmarks guessed or
//! corrected, the native socket, and what a landmark error does; [`marks`] is their file.
//!
//! ```
//! use std::path::Path;
//!
//! use cupwright_procedure::{Bone, CaseFile, Instruments, simulate};
//!
//! let file = CaseFile::parse(
//!     r#"(
//!         version: 1,
//!         bone: Preset(name: "average-male", side: Right),
//!         orientation: Radiographic,
//!         reamers: [(diameter_mm: 51), (diameter_mm: 53)],
//!         cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15),
//!     )"#,
//! )?;
//! let (case, folder) = (file.check()?, Path::new("."));
//! let bone = Bone::of_case(&case, folder)?;
//! let findings = simulate(&case, &bone, &Instruments::of_case(&case, folder)?)?;
//! let [first, second] = &findings.reaming[..] else { unreachable!() };
//! assert!(second.cumulative_removed_mm3 > first.cumulative_removed_mm3);
//! assert!(findings.cup.coverage_after_reaming > 0.5);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod bone;
pub mod case;
pub mod compare;
pub mod edit;
pub mod fan;
pub mod findings;
pub mod hold;
pub mod inspection;
pub mod instruments;
pub mod joint;
pub mod lesson;
pub mod maps;
pub mod marks;
pub mod measures;
pub mod mechanics;
pub mod piece;
pub mod placed;
pub mod quantity;
pub mod reading;
pub mod removal;
pub mod screws;
pub mod shapes;
pub mod simulate;
pub mod stock;
pub mod survey;
pub mod text;
pub mod unit;

mod film;
#[cfg(test)]
mod sample;
mod steps;
mod syntax;
mod watch;

pub use bone::Bone;
pub use case::{Case, CaseFile};
pub use findings::Findings;
pub use instruments::Instruments;
pub use measures::{Measures, measures};
pub use placed::Placed;
pub use shapes::{Shapes, shapes};
pub use simulate::{simulate, with_bone_on_bone};
