//! What each number is called, and how it is defined.

use super::Quantity;
use crate::findings::Wall;

impl Quantity {
    /// Its name in the words of the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::Coverage => "coverage after reaming",
            Self::WorstSector => "coverage of the worst sector",
            Self::RimContact => "rim contact",
            Self::RemovedMm3 => "bone removed",
            Self::ThinnestWallMm => "thinnest wall",
            Self::WallMm(Wall::Medial) => "medial wall",
            Self::WallMm(Wall::Anterior) => "anterior wall",
            Self::WallMm(Wall::Posterior) => "posterior wall",
            Self::WallMm(Wall::Superior) => "superior wall",
            Self::WallMm(Wall::Inferior) => "inferior wall",
            Self::LargestOverhangMm => "largest overhang",
            Self::InterferenceMm => "nominal interference",
            Self::CentreShiftMm => "hip-centre shift",
            Self::MedialMm => "hip-centre shift, medial",
            Self::SuperiorMm => "hip-centre shift, superior",
            Self::AnteriorMm => "hip-centre shift, anterior",
            Self::InclinationDeg => "inclination",
            Self::AnteversionDeg => "anteversion",
            Self::CupDiameterMm => "cup diameter",
            Self::Reamers => "reamers",
            Self::LargestReamerStepMm => "largest reamer step",
            Self::FilmCoverage => "coverage on a film",
            Self::MedialBreachMm2 => "medial breach",
            Self::PolarGapMm => "gap at the pole",
            Self::PushOutN => "push-out force",
            Self::LeverOutNm => "lever-out moment",
            Self::RimStretch => "stretch of the rim",
            Self::LinerWallMm => "liner wall",
            Self::JumpDistanceMm => "jump distance",
            Self::LegLengthMm => "leg length",
            Self::TotalOffsetMm => "total offset",
            Self::MotionMarginDeg => "motion beyond what is needed",
        }
    }

    /// How the number is defined, in one line.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Coverage => {
                "share of the cup's round side that lies in bone, less what a reamer took from behind it"
            }
            Self::WorstSector => {
                "the least covered of twelve sectors of the cup's round side, one about each hour of the clock, in bone as it was before reaming"
            }
            Self::RimContact => "share of the cup's rim that lies in bone as it was before reaming",
            Self::RemovedMm3 => "bone taken by all reamers together, counted once",
            Self::ThinnestWallMm => {
                "least bone left behind the cavity of any wall, along rays from the last reamer's centre, from 6 mm below where bone begins"
            }
            Self::WallMm(_) => {
                "least bone left behind the cavity in the directions of this wall, along rays from the last reamer's centre, from 6 mm below where bone begins"
            }
            Self::LargestOverhangMm => {
                "farthest that the cup's edge stands proud, along its surface from the edge to where bone begins, at any half hour"
            }
            Self::InterferenceMm => "cup diameter less that of the last reamer",
            Self::CentreShiftMm => "distance from the native hip centre to that of the cup",
            Self::MedialMm => {
                "from the native hip centre to that of the cup, toward the midline; lateral is negative"
            }
            Self::SuperiorMm => {
                "from the native hip centre to that of the cup, toward the head; inferior is negative"
            }
            Self::AnteriorMm => {
                "from the native hip centre to that of the cup, toward the front; posterior is negative"
            }
            Self::InclinationDeg => "inclination of the cup in the definition that the case names",
            Self::AnteversionDeg => "anteversion of the cup in the definition that the case names",
            Self::CupDiameterMm => "outer diameter of the cup",
            Self::Reamers => "how many reamers are used",
            Self::LargestReamerStepMm => {
                "most that a reamer is larger than the one used before it; none with a single reamer"
            }
            _ => self.meaning_of_hold_or_joint(),
        }
    }

    fn meaning_of_hold_or_joint(self) -> &'static str {
        match self {
            Self::FilmCoverage => {
                "share of the cup's width that lies under the roof in the frontal plane through its centre, as a film would show it; not the coverage in space"
            }
            Self::MedialBreachMm2 => {
                "area of the cavity toward the midline behind which no bone is left"
            }
            Self::PolarGapMm => {
                "estimate: what is left between pole and bone when the cup has been driven in with the case's force"
            }
            Self::PushOutN => {
                "estimate: force that pulls the seated cup out along its axis; 0 where it does not stay by itself"
            }
            Self::LeverOutNm => {
                "estimate: moment that tips the seated cup over the weakest place of its rim"
            }
            Self::RimStretch => {
                "estimate: strain around the rim of the cavity where the cup widens it most"
            }
            Self::LinerWallMm => "polyethylene between bore and shell where it is thinnest",
            Self::JumpDistanceMm => {
                "how far the ball's centre must move sideways to leave the liner"
            }
            Self::LegLengthMm => {
                "change of leg length against the native joint with the ball that the case chooses; longer is positive"
            }
            Self::TotalOffsetMm => {
                "change of the distance from midline to thigh with the ball that the case chooses; more is positive"
            }
            _ => {
                "least that any movement the case needs goes on before neck and liner meet; negative where one falls short"
            }
        }
    }
}
