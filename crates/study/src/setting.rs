//! [`Setting`]: one value for every [`Variable`], and the case that it makes of another.

use cupwright_anatomy::{Angles, Orientation};
use cupwright_procedure::CaseFile;
use cupwright_procedure::case::{BadCase, ReamerEntry, ShiftEntry};

use crate::variable::Variable;

/// A value for every variable: mm and degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    values: [f64; Variable::ALL.len()],
}

impl Setting {
    /// What a case says; depth, oversize and tilt are 0.
    pub fn of(case: &CaseFile) -> Self {
        let cup = &case.cup;
        let value = |variable| match variable {
            Variable::Inclination => cup.inclination_deg,
            Variable::Anteversion => cup.anteversion_deg,
            Variable::Medial => cup.centre.medial_mm,
            Variable::Superior => cup.centre.superior_mm,
            Variable::Anterior => cup.centre.anterior_mm,
            Variable::CupDiameter => cup.diameter_mm,
            Variable::Depth | Variable::Oversize | Variable::Tilt => 0.0,
        };
        Self {
            values: Variable::ALL.map(value),
        }
    }

    /// The value of a variable.
    pub fn get(&self, variable: Variable) -> f64 {
        self.values[variable.place()]
    }

    /// The same with another value of one variable.
    #[must_use]
    pub fn with(mut self, variable: Variable, value: f64) -> Self {
        self.values[variable.place()] = value;
        self
    }

    /// The same with a variable larger by `more`.
    #[must_use]
    pub fn plus(self, variable: Variable, more: f64) -> Self {
        self.with(variable, self.get(variable) + more)
    }

    /// `case` with the cup as set here and every reamer changed alike: moved and turned by as much,
    /// larger by as much and by the oversize. Tilt changes no case.
    ///
    /// # Errors
    /// When the angles are none of the case's definition.
    pub fn applied(&self, case: &CaseFile) -> Result<CaseFile, BadCase> {
        let (plan, mut changed) = (Self::of(case), case.clone());
        let by = |variable| self.get(variable) - plan.get(variable);
        let moved = self.moved(case, by)?;
        let cup = &mut changed.cup;
        cup.inclination_deg = self.get(Variable::Inclination);
        cup.anteversion_deg = self.get(Variable::Anteversion);
        cup.diameter_mm = self.get(Variable::CupDiameter);
        cup.centre = sum(case.cup.centre, moved);
        for reamer in &mut changed.reamers {
            *reamer = ReamerEntry {
                diameter_mm: reamer.diameter_mm
                    + by(Variable::CupDiameter)
                    + self.get(Variable::Oversize),
                centre: reamer.centre.map(|centre| sum(centre, moved)),
                inclination_deg: reamer
                    .inclination_deg
                    .map(|a| a + by(Variable::Inclination)),
                anteversion_deg: reamer
                    .anteversion_deg
                    .map(|a| a + by(Variable::Anteversion)),
            };
        }
        Ok(changed)
    }

    /// By how much cup and reamers move: the centre's change and the depth along the cup's new axis.
    fn moved(&self, case: &CaseFile, by: impl Fn(Variable) -> f64) -> Result<ShiftEntry, BadCase> {
        let angles = Angles::from_degrees(
            self.get(Variable::Inclination),
            self.get(Variable::Anteversion),
        );
        let orientation = Orientation::new(case.orientation.into(), angles);
        let orientation = orientation.map_err(|problem| BadCase::Angle {
            field: "cup".into(),
            problem,
        })?;
        let (side, depth) = (case.bone.side(), self.get(Variable::Depth));
        // The axis points out of the socket, and medial is −x on the right.
        let inward = -orientation.axis(side).into_inner() * depth;
        Ok(ShiftEntry {
            medial_mm: by(Variable::Medial) - side.sign() * inward.x,
            superior_mm: by(Variable::Superior) + inward.z,
            anterior_mm: by(Variable::Anterior) + inward.y,
        })
    }
}

fn sum(a: ShiftEntry, b: ShiftEntry) -> ShiftEntry {
    ShiftEntry {
        medial_mm: a.medial_mm + b.medial_mm,
        superior_mm: a.superior_mm + b.superior_mm,
        anterior_mm: a.anterior_mm + b.anterior_mm,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(side: &str) -> CaseFile {
        let text = format!(
            "(version: 1, bone: Preset(name: \"average-male\", side: {side}), orientation: Radiographic, \
             reamers: [(diameter_mm: 51), (diameter_mm: 53, centre: (medial_mm: 1), anteversion_deg: 18)], \
             cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15, centre: (superior_mm: 2)))"
        );
        CaseFile::parse(&text).unwrap()
    }

    #[test]
    fn the_plan_itself_changes_nothing() {
        let case = case("Right");
        assert_eq!(Setting::of(&case).applied(&case).unwrap(), case);
    }

    #[test]
    fn reamers_go_with_the_cup() {
        let plan = case("Right");
        let setting = Setting::of(&plan)
            .plus(Variable::Medial, 3.0)
            .with(Variable::Anteversion, 20.0)
            .plus(Variable::CupDiameter, 2.0)
            .with(Variable::Oversize, 0.5);
        let changed = setting.applied(&plan).unwrap();
        let diameters = changed.reamers.iter().map(|r| r.diameter_mm);
        assert_eq!(diameters.collect::<Vec<_>>(), [53.5, 55.5]);
        assert_eq!(
            (changed.cup.diameter_mm, changed.cup.anteversion_deg),
            (56.0, 20.0)
        );
        assert_eq!(
            (changed.cup.centre.medial_mm, changed.cup.centre.superior_mm),
            (3.0, 2.0)
        );
        // The first reamer takes all from the cup, the second what it gave itself, changed alike.
        assert_eq!(changed.reamers[0].centre, None);
        assert_eq!(changed.reamers[1].centre.map(|c| c.medial_mm), Some(4.0));
        assert_eq!(changed.reamers[1].anteversion_deg, Some(23.0));
    }

    #[test]
    fn depth_goes_into_the_socket_on_both_sides() {
        for side in ["Right", "Left"] {
            let plan = case(side);
            let deeper = Setting::of(&plan)
                .with(Variable::Depth, 10.0)
                .applied(&plan)
                .unwrap();
            let (sin, cos) = 40.0_f64.to_radians().sin_cos();
            let (sin_a, cos_a) = 15.0_f64.to_radians().sin_cos();
            let centre = deeper.cup.centre;
            assert!(
                (centre.medial_mm - 10.0 * cos_a * sin).abs() < 1e-12,
                "{side}"
            );
            assert!((centre.superior_mm - 2.0 - 10.0 * cos_a * cos).abs() < 1e-12);
            assert!((centre.anterior_mm + 10.0 * sin_a).abs() < 1e-12);
        }
    }
}
