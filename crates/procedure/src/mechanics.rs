//! Will it hold, what is left, where do screws go: the three asked together, over shared rays.

use rayon::join;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::{Fan, Steps};
use crate::hold::{NoPressFit, PressFitFinding, PressFitInputs, press_fit_along};
use crate::placed::{NotPlaced, Placed};
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
    let reamers = Placed::reamers(case, bone)?;
    let cup = Placed::cup(case, bone)?;
    let swept: Vec<_> = reamers.iter().map(Placed::swept).collect();
    let last = reamers.last().unwrap_or(&cup);
    let fan = Fan::cast(&bone.solid, last, Steps::default());
    let own = (!fan.serves(&cup)).then(|| Fan::cast(&bone.solid, &cup, Steps::default()));
    let cup_fan = own.as_ref().unwrap_or(&fan);
    let (press_fit, (stock, screws)) = join(
        || press_fit_along(cup_fan, bone, &cup, &swept, &inputs.press_fit),
        || {
            join(
                || stock_along(&fan, bone, &reamers, &inputs.fallback),
                || screws_of(bone, &cup, &swept, &inputs.screws),
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
