//! Published rules that join the version of cup and stem, each with the definition of its angles.
//!
//! None of them is a recommendation of this program, and they do not agree with each other.

use cupwright_anatomy::{Definition, Orientation, Source, Trust};
use schemars::JsonSchema;
use serde::Serialize;

use super::Joint;

/// A rule in print.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum VersionRule {
    /// Widmer & Zurfluh 2004: radiographic anteversion and 0.7 of the stem's antetorsion.
    Widmer,
    /// Yoshimine 2006: radiographic inclination, anatomic anteversion and 0.77 of the stem's antetorsion.
    Yoshimine,
    /// Dorr: anteversion of the cup and antetorsion of the stem.
    Dorr,
    /// The result of a series that prepared the femur first: the same sum.
    FemurFirst,
    /// Stable hips on CT: operative anteversion of the cup alone.
    StableOnCt,
}

/// The version of cup and stem together.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct VersionFinding {
    /// Antetorsion of the stem against the knee.
    pub stem_antetorsion_deg: f64,
    /// The cup in each definition.
    pub cup: Vec<CupVersion>,
    /// Each rule.
    pub rules: Vec<RuleFinding>,
}

/// The cup's angles in one definition.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct CupVersion {
    /// `radiographic`, `operative` or `anatomic`.
    pub definition: String,
    /// Inclination.
    pub inclination_deg: f64,
    /// Anteversion.
    pub anteversion_deg: f64,
}

/// What a rule says of a cup and a stem.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct RuleFinding {
    /// Its name.
    pub rule: String,
    /// What is added up, with the definition of each angle.
    pub formula: String,
    /// The sum for this joint.
    pub sum_deg: f64,
    /// The least and the greatest sum it asks for; alike where it asks for one.
    pub asked_deg: [f64; 2],
    /// How far the sum lies above what is asked, negative below; 0 within.
    pub departure_deg: f64,
    /// Whether the rule is meant for such a cup.
    pub applies: bool,
    /// What to know before it is used.
    pub remark: String,
    /// Where it is printed, and whether it was read there.
    pub source: String,
}

impl VersionRule {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Widmer,
        Self::Yoshimine,
        Self::Dorr,
        Self::FemurFirst,
        Self::StableOnCt,
    ];

    /// The sum that the rule is about, in radians.
    pub fn sum(self, cup: &Orientation, stem_antetorsion: f64) -> f64 {
        let anteversion = |definition| cup.converted_to(definition).anteversion();
        match self {
            Self::Widmer => anteversion(Definition::Radiographic) + 0.7 * stem_antetorsion,
            Self::Yoshimine => {
                cup.converted_to(Definition::Radiographic).inclination()
                    + anteversion(Definition::Anatomic)
                    + 0.77 * stem_antetorsion
            }
            Self::Dorr | Self::FemurFirst => {
                anteversion(Definition::Radiographic) + stem_antetorsion
            }
            Self::StableOnCt => anteversion(Definition::Operative),
        }
    }

    /// The least and the greatest sum that it asks for, in degrees.
    pub fn asked_deg(self) -> [f64; 2] {
        match self {
            Self::Widmer => [37.3, 37.3],
            Self::Yoshimine => [84.3, 84.3],
            Self::Dorr => [25.0, 45.0],
            Self::FemurFirst => [29.0, 47.0],
            Self::StableOnCt => [20.0, 42.0],
        }
    }

    /// Whether it is meant for a cup that faces this way.
    fn applies(self, cup: &Orientation) -> bool {
        let inclination = cup.converted_to(Definition::Radiographic).inclination();
        // 40° turned into radians and back is 40° but for rounding.
        const ROUNDING: f64 = 1e-9;
        let usual = 40.0 - ROUNDING..=45.0 + ROUNDING;
        self != Self::Widmer || usual.contains(&inclination.to_degrees())
    }

    fn words(self) -> [&'static str; 3] {
        match self {
            Self::Widmer => [
                "Widmer and Zurfluh",
                "radiographic anteversion + 0.7 stem antetorsion",
                "meant for a radiographic inclination of 40 to 45°",
            ],
            Self::Yoshimine => [
                "Yoshimine",
                "radiographic inclination + anatomic anteversion + 0.77 stem antetorsion",
                "the factor 0.77 and the sum 84.3 are from memory",
            ],
            Self::Dorr => [
                "Dorr",
                "anteversion + stem antetorsion",
                "5° more for women; another text says 25 to 35 for men and up to 45 for women; that the \
                 anteversion is the radiographic one is assumed",
            ],
            Self::FemurFirst => [
                "a femur-first series",
                "anteversion + stem antetorsion",
                "what was reached, 38 ± 9, not a limit; that the anteversion is the radiographic one is assumed",
            ],
            Self::StableOnCt => [
                "stable hips on CT",
                "operative anteversion",
                "what was found, 31 ± 11 in stable hips and 44 ± 12 in hips unstable to the front, not a limit",
            ],
        }
    }

    /// Where it is printed.
    pub fn source(self) -> Source {
        let (citation, trust) = match self {
            Self::Widmer => (
                "Widmer & Zurfluh 2004, J Orthop Res 22:815, as quoted in J Orthop Surg Res 2022, doi \
                 10.1186/s13018-022-03112-6",
                Trust::Read,
            ),
            Self::Yoshimine => ("Yoshimine 2006, J Biomech 39:1315", Trust::FromMemory),
            Self::Dorr => (
                "Dorr, as quoted in J Orthop Surg Res 2022, doi 10.1186/s13018-022-03112-6, and in Arthroplasty \
                 2024, doi 10.1186/s42836-024-00248-0",
                Trust::Read,
            ),
            Self::FemurFirst => ("PMC5539744", Trust::Read),
            Self::StableOnCt => ("Clin Orthop Relat Res, PMC6259696", Trust::Read),
        };
        Source { citation, trust }
    }

    fn finding(self, cup: &Orientation, stem_antetorsion: f64) -> RuleFinding {
        let [rule, formula, remark] = self.words().map(String::from);
        let sum_deg = self.sum(cup, stem_antetorsion).to_degrees();
        let asked_deg = self.asked_deg();
        RuleFinding {
            rule,
            formula,
            sum_deg,
            asked_deg,
            departure_deg: sum_deg - sum_deg.clamp(asked_deg[0], asked_deg[1]),
            applies: self.applies(cup),
            remark,
            source: self.source().to_string(),
        }
    }
}

/// What the rules in print say of a joint.
pub fn versions(joint: &Joint) -> VersionFinding {
    let cup = &joint.orientation;
    let antetorsion = joint.stem.neck.antetorsion;
    let rules = VersionRule::ALL.map(|rule| rule.finding(cup, antetorsion));
    let in_definition = |definition: Definition| {
        let converted = cup.converted_to(definition);
        CupVersion {
            definition: definition.to_string(),
            inclination_deg: converted.inclination().to_degrees(),
            anteversion_deg: converted.anteversion().to_degrees(),
        }
    };
    VersionFinding {
        stem_antetorsion_deg: antetorsion.to_degrees(),
        cup: Definition::ALL.map(in_definition).to_vec(),
        rules: rules.to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_anatomy::Angles;

    fn cup(definition: Definition, inclination: f64, anteversion: f64) -> Orientation {
        Orientation::new(definition, Angles::from_degrees(inclination, anteversion)).unwrap()
    }

    #[track_caller]
    fn sums(rule: VersionRule, cup: &Orientation, expected_deg: f64) {
        let found = rule.sum(cup, 10.0_f64.to_radians()).to_degrees();
        assert!((found - expected_deg).abs() < 0.006, "{found}");
    }

    #[test]
    fn each_rule_adds_the_angles_of_its_own_definition() {
        // 40/20 radiographic is 37.16/25.41 operative and 43.96/29.52 anatomic.
        let cup = cup(Definition::Radiographic, 40.0, 20.0);
        sums(VersionRule::Widmer, &cup, 27.0);
        sums(VersionRule::Yoshimine, &cup, 40.0 + 29.52 + 7.7);
        sums(VersionRule::Dorr, &cup, 30.0);
        sums(VersionRule::FemurFirst, &cup, 30.0);
        sums(VersionRule::StableOnCt, &cup, 25.41);
    }

    #[test]
    fn a_cup_told_in_another_definition_is_converted_first() {
        let film = cup(Definition::Radiographic, 40.0, 20.0);
        for rule in VersionRule::ALL {
            for definition in Definition::ALL {
                let told = film.converted_to(definition);
                assert!((rule.sum(&told, 0.2) - rule.sum(&film, 0.2)).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_sum_departs_only_beyond_what_is_asked() {
        let departure = |anteversion| {
            let cup = cup(Definition::Radiographic, 40.0, anteversion);
            VersionRule::Dorr.finding(&cup, 0.0).departure_deg
        };
        assert!(departure(30.0).abs() < 1e-12);
        assert!((departure(20.0) + 5.0).abs() < 1e-9 && (departure(50.0) - 5.0).abs() < 1e-9);
    }

    #[test]
    fn a_rule_for_usual_inclinations_does_not_apply_to_others() {
        let applies = |rule: VersionRule, inclination| {
            let cup = cup(Definition::Radiographic, inclination, 15.0);
            rule.finding(&cup, 0.0).applies
        };
        assert!(applies(VersionRule::Widmer, 40.0) && applies(VersionRule::Widmer, 45.0));
        assert!(!applies(VersionRule::Widmer, 50.0) && applies(VersionRule::Dorr, 50.0));
    }

    #[test]
    fn a_constant_from_memory_says_so() {
        let found = VersionRule::Yoshimine.finding(&cup(Definition::Radiographic, 40.0, 15.0), 0.2);
        assert!(found.source.ends_with("(from memory)"), "{}", found.source);
    }
}
