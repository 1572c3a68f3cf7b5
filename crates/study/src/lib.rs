//! Studies of a plan: what happens to the numbers of a case when the plan changes.
//!
//! | question | answer |
//! |---|---|
//! | what can be changed, what is told | [`Variable`], [`Measure`] |
//! | what does the plan find at one setting | [`Evaluator::evaluate`] |
//! | which settings keep what was asked | [`Limit`] |
//! | how do numbers lie over two variables | [`map`](mod@map) |
//! | how do they answer to one variable | [`sensitivity`](mod@sensitivity) |
//! | small reamer steps or large ones, a hand that is off | [`increments`](mod@increments) |
//! | what becomes of the plan when hands and reamers err | [`scatter`](mod@scatter), [`published`] errors, [`spread`] |
//! | which placements are best under limits | [`place`](mod@place) |
//! | how do numbers lie over many bones | [`cohort`] |
//!
//! A study prepares its case and bone once, as an [`Evaluator`], and then asks it at many [`Setting`]s;
//! only [`evaluator`] measures. Numbers are told as [`procedure::quantity`](cupwright_procedure::quantity)
//! tells them: lengths in mm, volumes in mm³, angles in degrees, shares from 0 to 1. The same bits come out
//! on any number of threads.
//!
//! ```
//! use std::path::Path;
//!
//! use cupwright_procedure::{Bone, CaseFile};
//! use cupwright_study::{Evaluator, Measure, Variable};
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
//! let evaluator = Evaluator::new(&file, &bone)?;
//! let plan = evaluator.plan();
//! let flat = plan.with(Variable::Inclination, 20.0);
//! let coverage = |setting| -> Result<_, cupwright_study::NoOutcome> {
//!     Ok(evaluator.evaluate(setting, &[Measure::Coverage])?.get(Measure::Coverage))
//! };
//! assert!(coverage(&flat)? < coverage(&plan)?, "a flat cup turns away from the native rim");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod cohort;
pub mod evaluator;
pub mod increments;
pub mod influence;
pub mod limit;
pub mod map;
pub mod measure;
pub mod place;
pub mod published;
pub mod scatter;
pub mod sensitivity;
pub mod setting;
pub mod spread;
pub mod variable;

pub use evaluator::{Evaluator, NoOutcome, Outcome};
pub use increments::{Hand, Series, increments};
pub use limit::Limit;
pub use map::{Map, map};
pub use measure::Measure;
pub use place::{Effort, Front, Member, Search, place};
pub use scatter::{Draws, Scatter, scatter};
pub use sensitivity::{Sensitivity, sensitivity};
pub use setting::Setting;
pub use spread::Spread;
pub use variable::{Axis, BadAxis, Variable};
