//! What goes into a joint, as typed: liner, head, stem, femur, target, and the motion that is needed.
//!
//! Every field has a default, and together they make a generic joint of no maker. Each default says
//! where it comes from; "assumed" and "common practice" are choices, not published numbers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{BadJoint, Movement};

/// Everything that is joined to a cup.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct JointEntry {
    /// The liner.
    pub liner: LinerEntry,
    /// The ball.
    pub head: HeadEntry,
    /// The stem.
    pub stem: StemEntry,
    /// The native femur that the stem goes into.
    pub femur: FemurEntry,
    /// What leg length and offset are to become.
    pub target: TargetEntry,
    /// The motion that the joint must allow; default: flexion 120°, internal rotation at 90° of flexion
    /// 45°, extension 30°, external rotation 40° (Yoshimine 2006, J Biomech 39:1315, as quoted in J Orthop
    /// Surg Res 2022, doi 10.1186/s13018-022-03112-6).
    pub needs: Vec<NeedEntry>,
}

/// The liner.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct LinerEntry {
    /// Thickness of the cup's shell; default 4 mm, the middle of the usual 3 to 5 (assumed).
    pub shell_mm: f64,
    /// Diameter of the bore; where absent the head's and `clearance_mm`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bore_mm: Option<f64>,
    /// Diameter of the bore less that of its head; default 0.2 mm (assumed, order of the trade).
    pub clearance_mm: f64,
    /// How far the head's centre lies out of the cup's, along its axis; default 0.
    pub lateralised_mm: f64,
    /// How far the head's centre stands out of the plane of the liner's face; negative where the face
    /// stands higher; default 0.
    pub head_proud_mm: f64,
    /// Width of a bevel of 45° on the edge of the bore; default 0.
    pub bevel_mm: f64,
    /// What the liner is made of.
    pub material: Polyethylene,
}

/// A kind of polyethylene.
#[derive(Clone, Copy, Debug, Default, Deserialize, Eq, JsonSchema, PartialEq, Serialize)]
pub enum Polyethylene {
    /// Highly cross-linked.
    #[default]
    CrossLinked,
    /// Not cross-linked.
    Conventional,
}

/// The ball.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct HeadEntry {
    /// Its diameter; default 32 mm (common practice, no published source).
    pub diameter_mm: f64,
    /// The lengths it comes in, along the neck; default -3.5, 0, 3.5 and 7 mm (assumed: steps are not
    /// standardised).
    pub lengths_mm: Vec<f64>,
    /// The length chosen; where absent the best for the target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    /// A collar that long balls carry on the neck; default none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub skirt: Option<SkirtEntry>,
}

/// A collar on the neck.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SkirtEntry {
    /// The shortest ball that has one.
    pub from_length_mm: f64,
    /// Its diameter.
    pub diameter_mm: f64,
}

/// The stem.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct StemEntry {
    /// Between neck and shaft; default 135° (common practice, no published source).
    pub neck_shaft_angle_deg: f64,
    /// Along the neck, from the shaft's axis to the centre of ball 0; default 58 mm (assumed: about
    /// restores the default femur).
    pub neck_length_mm: f64,
    /// How much farther the head of the high-offset version stands from the shaft, at the same height;
    /// default 6 mm (assumed, order of the trade).
    pub high_offset_mm: f64,
    /// The version chosen; where absent the better for the target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offset: Option<OffsetChoice>,
    /// Antetorsion of its neck against the knee; default 15° (common practice, no published source).
    pub antetorsion_deg: f64,
    /// How much deeper it sits than where its neck crosses the shaft's axis as high as the native one
    /// did; default 0.
    pub insertion_mm: f64,
    /// Diameter of the neck where it leaves the ball; default 12 mm (assumed, order of the trade).
    pub neck_diameter_mm: f64,
    /// Full angle of the neck's cone, widening toward the shaft; default 0, a cylinder (assumed).
    pub neck_taper_deg: f64,
}

/// One of the two offset versions of a stem.
#[derive(Clone, Copy, Debug, Deserialize, Eq, JsonSchema, PartialEq, Serialize)]
pub enum OffsetChoice {
    /// The plain one.
    Standard,
    /// The one whose head stands farther from the shaft.
    High,
}

/// The native femur.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct FemurEntry {
    /// Between neck and shaft; default 133.0° (mean of 466, Medicine 2015, PMC4616413).
    pub neck_shaft_angle_deg: f64,
    /// Antetorsion of its neck; default 10.6° (the same 466).
    pub antetorsion_deg: f64,
    /// From the head's centre square to the shaft's axis; default 43 mm (assumed).
    pub offset_mm: f64,
    /// How far the tip of the greater trochanter lies below the head's centre; default 3 mm (assumed).
    pub trochanter_below_mm: f64,
}

/// What leg length and offset are to become.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct TargetEntry {
    /// Change of leg length, longer positive; default 0: as the native joint.
    pub leg_length_mm: f64,
    /// Change of total offset, more positive; default 0.
    pub total_offset_mm: f64,
    /// The farthest from the leg length asked for that is accepted; default 15 mm: differences above that
    /// affect gait (review in Sci Rep 2021, doi 10.1038/s41598-021-02684-3).
    pub leg_length_limit_mm: f64,
}

/// A motion that the joint must allow.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct NeedEntry {
    /// Which.
    pub movement: Movement,
    /// How far.
    pub range_deg: f64,
}

impl Default for JointEntry {
    fn default() -> Self {
        Self {
            liner: LinerEntry::default(),
            head: HeadEntry::default(),
            stem: StemEntry::default(),
            femur: FemurEntry::default(),
            target: TargetEntry::default(),
            needs: super::motion::YOSHIMINE.to_vec(),
        }
    }
}

impl Default for LinerEntry {
    fn default() -> Self {
        Self {
            shell_mm: 4.0,
            bore_mm: None,
            clearance_mm: 0.2,
            lateralised_mm: 0.0,
            head_proud_mm: 0.0,
            bevel_mm: 0.0,
            material: Polyethylene::default(),
        }
    }
}

impl Default for HeadEntry {
    fn default() -> Self {
        Self {
            diameter_mm: 32.0,
            lengths_mm: vec![-3.5, 0.0, 3.5, 7.0],
            length_mm: None,
            skirt: None,
        }
    }
}

impl Default for StemEntry {
    fn default() -> Self {
        Self {
            neck_shaft_angle_deg: 135.0,
            neck_length_mm: 58.0,
            high_offset_mm: 6.0,
            offset: None,
            antetorsion_deg: 15.0,
            insertion_mm: 0.0,
            neck_diameter_mm: 12.0,
            neck_taper_deg: 0.0,
        }
    }
}

impl Default for FemurEntry {
    fn default() -> Self {
        Self {
            neck_shaft_angle_deg: 133.0,
            antetorsion_deg: 10.6,
            offset_mm: 43.0,
            trochanter_below_mm: 3.0,
        }
    }
}

impl Default for TargetEntry {
    fn default() -> Self {
        Self {
            leg_length_mm: 0.0,
            total_offset_mm: 0.0,
            leg_length_limit_mm: 15.0,
        }
    }
}

/// What a number may be, as told to the reader.
struct Range {
    least: f64,
    most: f64,
    told: &'static str,
}

const SIZE: Range = Range {
    least: 1.0,
    most: 100.0,
    told: "between 1 and 100 mm",
};
const SMALL: Range = Range {
    least: 0.0,
    most: 20.0,
    told: "between 0 and 20 mm",
};
const SHIFT: Range = Range {
    least: -50.0,
    most: 50.0,
    told: "between -50 and 50 mm",
};
const NEAR: Range = Range {
    least: -10.0,
    most: 10.0,
    told: "between -10 and 10 mm",
};
const NECK_SHAFT: Range = Range {
    least: 100.0,
    most: 165.0,
    told: "between 100 and 165°",
};
const TORSION: Range = Range {
    least: -60.0,
    most: 90.0,
    told: "between -60 and 90°",
};
const TAPER: Range = Range {
    least: 0.0,
    most: 40.0,
    told: "between 0 and 40°",
};
const LENGTHS: Range = Range {
    least: 1.0,
    most: 100.0,
    told: "between 1 and 100",
};
const MOTION: Range = Range {
    least: 0.0,
    most: 180.0,
    told: "between 0 and 180°",
};

impl Range {
    fn check(&self, field: &'static str, value: f64) -> Result<(), BadJoint> {
        if (self.least..=self.most).contains(&value) {
            Ok(())
        } else {
            Err(BadJoint::Number {
                field,
                value,
                allowed: self.told,
            })
        }
    }
}

impl JointEntry {
    /// Whether every number is in its range.
    ///
    /// # Errors
    /// The first that is not, by the name of its field.
    pub fn check(&self) -> Result<(), BadJoint> {
        self.liner.check()?;
        self.head.check()?;
        self.stem.check()?;
        self.femur.check()?;
        let target = &self.target;
        SHIFT.check("target.leg_length_mm", target.leg_length_mm)?;
        SHIFT.check("target.total_offset_mm", target.total_offset_mm)?;
        SIZE.check("target.leg_length_limit_mm", target.leg_length_limit_mm)?;
        let mut needs = self.needs.iter();
        needs.try_for_each(|need| MOTION.check("needs.range_deg", need.range_deg))
    }
}

impl LinerEntry {
    fn check(&self) -> Result<(), BadJoint> {
        SMALL.check("liner.shell_mm", self.shell_mm)?;
        SIZE.check("liner.bore_mm", self.bore_mm.unwrap_or(SIZE.least))?;
        SMALL.check("liner.clearance_mm", self.clearance_mm)?;
        NEAR.check("liner.lateralised_mm", self.lateralised_mm)?;
        NEAR.check("liner.head_proud_mm", self.head_proud_mm)?;
        SMALL.check("liner.bevel_mm", self.bevel_mm)
    }
}

impl HeadEntry {
    fn check(&self) -> Result<(), BadJoint> {
        SIZE.check("head.diameter_mm", self.diameter_mm)?;
        let count = u32::try_from(self.lengths_mm.len()).map_or(f64::INFINITY, f64::from);
        LENGTHS.check("the number of head.lengths_mm", count)?;
        let mut lengths = self.lengths_mm.iter();
        lengths.try_for_each(|&length| SHIFT.check("head.lengths_mm", length))?;
        if let Some(skirt) = &self.skirt {
            SIZE.check("head.skirt.diameter_mm", skirt.diameter_mm)?;
            SHIFT.check("head.skirt.from_length_mm", skirt.from_length_mm)?;
        }
        match self.length_mm {
            Some(chosen) if !self.holds(chosen) => Err(BadJoint::NoSuchBall(chosen)),
            _ => Ok(()),
        }
    }

    fn holds(&self, length: f64) -> bool {
        let mut lengths = self.lengths_mm.iter();
        lengths.any(|l| l.total_cmp(&length).is_eq())
    }
}

impl StemEntry {
    fn check(&self) -> Result<(), BadJoint> {
        NECK_SHAFT.check("stem.neck_shaft_angle_deg", self.neck_shaft_angle_deg)?;
        SIZE.check("stem.neck_length_mm", self.neck_length_mm)?;
        SMALL.check("stem.high_offset_mm", self.high_offset_mm)?;
        TORSION.check("stem.antetorsion_deg", self.antetorsion_deg)?;
        SHIFT.check("stem.insertion_mm", self.insertion_mm)?;
        SIZE.check("stem.neck_diameter_mm", self.neck_diameter_mm)?;
        TAPER.check("stem.neck_taper_deg", self.neck_taper_deg)
    }
}

impl FemurEntry {
    fn check(&self) -> Result<(), BadJoint> {
        NECK_SHAFT.check("femur.neck_shaft_angle_deg", self.neck_shaft_angle_deg)?;
        TORSION.check("femur.antetorsion_deg", self.antetorsion_deg)?;
        SIZE.check("femur.offset_mm", self.offset_mm)?;
        SHIFT.check("femur.trochanter_below_mm", self.trochanter_below_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_is_in_its_ranges_and_reads_back() {
        let entry = JointEntry::default();
        assert_eq!(entry.check(), Ok(()));
        let text = ron::to_string(&entry).unwrap();
        assert_eq!(ron::from_str::<JointEntry>(&text).unwrap(), entry);
        assert_eq!(ron::from_str::<JointEntry>("()").unwrap(), entry);
    }

    #[test]
    fn a_field_that_does_not_exist_is_refused() {
        let error = ron::from_str::<JointEntry>("(head: (size_mm: 32))").unwrap_err();
        assert!(error.to_string().contains("size_mm"), "{error}");
    }

    #[test]
    fn a_number_out_of_range_is_named() {
        let refused = |text: &str| {
            let entry: JointEntry = ron::from_str(text).unwrap();
            entry.check().unwrap_err().to_string()
        };
        for (text, told) in [
            (
                "(stem: (neck_shaft_angle_deg: 90))",
                "stem.neck_shaft_angle_deg is 90",
            ),
            ("(head: (diameter_mm: NaN))", "head.diameter_mm is NaN"),
            (
                "(head: (lengths_mm: []))",
                "the number of head.lengths_mm is 0",
            ),
            ("(head: (length_mm: Some(2)))", "ball +2 mm"),
            ("(femur: (offset_mm: inf))", "femur.offset_mm is inf"),
            (
                "(needs: [(movement: Flexion, range_deg: 200)])",
                "needs.range_deg is 200",
            ),
        ] {
            let message = refused(text);
            assert!(message.contains(told), "{message}");
        }
    }
}
