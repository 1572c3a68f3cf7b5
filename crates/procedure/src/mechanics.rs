//! Will it hold, what is left, where do screws go: the three asked together, over shared rays.

use rayon::join;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::Fans;
use crate::hold::{BadInput, NoPressFit, PressFitFinding, PressFitInputs, press_fit_along};
use crate::placed::{NotPlaced, Tools};
use crate::screws::{NoScrews, ScrewInputs, ScrewsFinding, screws_of};
use crate::stock::{FallbackCup, NoStock, StockFinding, stock_along};

/// What the three need beyond the case; each number has a default.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct MechanicsInputs {
    /// Bone, friction and force of the press-fit.
    pub press_fit: PressFitInputs,
    /// The cup to fall back on.
    pub fallback: FallbackCup,
    /// The screws.
    pub screws: ScrewInputs,
}

/// Press-fit, stock and screws of a case.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MechanicsFinding {
    /// Whether the cup holds.
    pub press_fit: PressFitFinding,
    /// What bone is left.
    pub stock: StockFinding,
    /// Where screws may go; `None` where the bone's ASIS is not known.
    pub screws: Option<ScrewsFinding>,
}

/// Why they cannot be told.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoMechanics {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// The press-fit.
    #[error(transparent)]
    PressFit(#[from] NoPressFit),
    /// The stock.
    #[error(transparent)]
    Stock(#[from] NoStock),
    /// The screws.
    #[error(transparent)]
    Screws(#[from] NoScrews),
}

/// Press-fit, stock and screws of a case, each as its own module tells it; rays are cast once where cup
/// and last reamer share centre and axis.
///
/// # Errors
/// When a tool cannot be placed, or a number of the inputs cannot be.
pub fn mechanics(
    case: &Case,
    bone: &Bone,
    inputs: &MechanicsInputs,
) -> Result<MechanicsFinding, NoMechanics> {
    let tools = Tools::of(case, bone)?;
    let fans = Fans::cast(&bone.solid, &tools);
    mechanics_along(&fans, bone, &tools, inputs)
}

/// The same for tools that are placed, along rays that are cast.
pub(crate) fn mechanics_along(
    fans: &Fans<'_>,
    bone: &Bone,
    tools: &Tools,
    inputs: &MechanicsInputs,
) -> Result<MechanicsFinding, NoMechanics> {
    let (cup, swept) = (&tools.cup, &tools.swept);
    let (press_fit, (stock, screws)) = join(
        || press_fit_along(&fans.of(cup), bone, cup, swept, &inputs.press_fit),
        || {
            join(
                || stock_along(&fans.of(tools.last()), bone, tools, &inputs.fallback),
                || screws_of(bone, cup, swept, &inputs.screws),
            )
        },
    );
    let screws = match screws {
        Err(NoScrews::NoAsis) => None,
        found => Some(found?),
    };
    Ok(MechanicsFinding {
        press_fit: press_fit?,
        stock: stock?,
        screws,
    })
}

impl MechanicsInputs {
    /// Refuses numbers that cannot be.
    ///
    /// # Errors
    /// The first of them, by the name of its field.
    pub fn check(&self) -> Result<(), BadInput> {
        self.press_fit.check()?;
        self.fallback.check()?;
        self.screws.check()
    }
}
