//! What changed between two runs: numbers, limits, and what to watch.
//!
//! Whether a change is better is said only where the trade agrees on a way ([`Quantity::sense`]); all
//! else is a matter of balance and called neither.

use crate::findings::{Findings, Level, LimitFinding, Watch};
use crate::quantity::{Quantity, Sense};

/// The numbers that are compared, in the order in which they are told.
pub const COMPARED: [Quantity; 21] = [
    Quantity::Coverage,
    Quantity::WorstSector,
    Quantity::RimContact,
    Quantity::RemovedMm3,
    Quantity::ThinnestWallMm,
    Quantity::LargestOverhangMm,
    Quantity::MedialBreachMm2,
    Quantity::InterferenceMm,
    Quantity::PolarGapMm,
    Quantity::PushOutN,
    Quantity::LeverOutNm,
    Quantity::RimStretch,
    Quantity::MedialMm,
    Quantity::SuperiorMm,
    Quantity::AnteriorMm,
    Quantity::CentreShiftMm,
    Quantity::LegLengthMm,
    Quantity::TotalOffsetMm,
    Quantity::LinerWallMm,
    Quantity::JumpDistanceMm,
    Quantity::MotionMarginDeg,
];

/// How far apart, relative to 1 or to the larger of two numbers, they are still one: above what turning
/// angles into another definition and back costs (10⁻¹⁵), below anything a reader is shown (10⁻⁴).
const ONE: f64 = 1e-9;

/// One thing that changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What kind of thing.
    pub kind: Kind,
    /// What, in the words of the trade.
    pub what: String,
    /// The unit of both numbers, as in [`Quantity::unit`].
    pub unit: &'static str,
    /// The number before; `None` where there was none.
    pub before: Option<f64>,
    /// The number after; `None` where there is none.
    pub after: Option<f64>,
    /// Where it was found before, such as `medial 4:40`.
    pub before_at: Option<String>,
    /// Where it is found after.
    pub after_at: Option<String>,
    /// Whether that is better.
    pub better: Better,
    /// How the number is defined, or where the threshold comes from.
    pub meaning: String,
}

/// What kind of thing changed.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Kind {
    /// A number.
    Number(Quantity),
    /// A limit is broken that was kept or not asked before.
    LimitBroken,
    /// A limit is kept that was broken.
    LimitKept,
    /// Something to watch that was not there.
    WatchAppeared(Level),
    /// Something to watch that is gone.
    WatchWent(Level),
}

/// Whether a change is for the better.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Better {
    /// The trade agrees that it is.
    Better,
    /// The trade agrees that it is not.
    Worse,
    /// A matter of balance.
    Neither,
}

/// What changed from one run to another: numbers first, then limits, then what to watch.
///
/// Numbers that stayed the same are left out. Something to watch whose text differs in its numbers
/// alone has neither appeared nor gone.
pub fn changes(before: &Findings, after: &Findings) -> Vec<Change> {
    let numbers = COMPARED
        .into_iter()
        .filter_map(|q| number(q, before, after));
    let limits = after.limits.iter();
    let limits = limits.filter_map(|now| limit(&before.limits, now));
    numbers
        .chain(limits)
        .chain(watches(&before.watch, &after.watch))
        .collect()
}

impl Change {
    /// The change on one line, such as `coverage after reaming 74.1 % to 80.0 %, better`.
    pub fn told(&self) -> String {
        let better = match self.better {
            Better::Better => ", better",
            Better::Worse => ", worse",
            Better::Neither => "",
        };
        let Kind::Number(quantity) = self.kind else {
            return format!("{}{better}", self.what);
        };
        let side = |value: Option<f64>, at: &Option<String>| {
            let value = value.map_or("not measured".into(), |value| quantity.told(value));
            let at = at.as_ref().map(|at| format!(" ({at})"));
            value + &at.unwrap_or_default()
        };
        let before = side(self.before, &self.before_at);
        let after = side(self.after, &self.after_at);
        format!("{} {before} to {after}{better}", self.what)
    }
}

fn number(quantity: Quantity, before: &Findings, after: &Findings) -> Option<Change> {
    let (was, is) = (quantity.of(before), quantity.of(after));
    let same = match (was, is) {
        (Some(a), Some(b)) => (a - b).abs() <= ONE * a.abs().max(b.abs()).max(1.0),
        (None, None) => true,
        _ => false,
    };
    (!same).then(|| Change {
        kind: Kind::Number(quantity),
        what: quantity.label().into(),
        unit: quantity.unit(),
        before: was,
        after: is,
        before_at: quantity.place(before),
        after_at: quantity.place(after),
        better: better(quantity.sense(), was, is),
        meaning: quantity.meaning().into(),
    })
}

fn better(sense: Sense, before: Option<f64>, after: Option<f64>) -> Better {
    let (Some(before), Some(after)) = (before, after) else {
        return Better::Neither;
    };
    match sense {
        Sense::More if after > before => Better::Better,
        Sense::Less if after < before => Better::Better,
        Sense::Balance => Better::Neither,
        _ => Better::Worse,
    }
}

/// A limit that is newly broken or newly kept.
fn limit(before: &[LimitFinding], now: &LimitFinding) -> Option<Change> {
    let was = before.iter().find(|limit| limit.limit == now.limit);
    let (kind, changed, better) = match (was.is_none_or(|was| was.met), now.met) {
        (true, false) => (Kind::LimitBroken, "broken", Better::Worse),
        (false, true) => (Kind::LimitKept, "kept", Better::Better),
        _ => return None,
    };
    // Another limit is another question: then the plan has grown neither better nor worse by it.
    let same_question = was.is_some_and(|was| was.asked.to_bits() == now.asked.to_bits());
    let (asked, unit, meaning) = match Quantity::of_limit(&now.limit) {
        Some((quantity, way)) => (
            format!("{} {way} {}", quantity.label(), quantity.told(now.asked)),
            quantity.unit(),
            quantity.meaning(),
        ),
        None => (format!("{} {}", now.limit, now.asked), "", ""),
    };
    Some(Change {
        kind,
        what: format!("limit {changed}: {asked}"),
        unit,
        before: was.and_then(|was| was.found),
        after: now.found,
        before_at: None,
        after_at: None,
        better: if same_question {
            better
        } else {
            Better::Neither
        },
        meaning: meaning.into(),
    })
}

/// What appeared and what went, the gravest first.
fn watches(before: &[Watch], after: &[Watch]) -> Vec<Change> {
    let (mut went, mut appeared): (Vec<_>, Vec<_>) =
        (before.iter().collect(), after.iter().collect());
    // The very same first, so that of two that differ in their numbers the right one is left.
    pair_off(&mut went, &mut appeared, |a, b| a == b);
    pair_off(&mut went, &mut appeared, |a, b| {
        a.level == b.level && without_numbers(a).eq(without_numbers(b))
    });
    let appeared = appeared.into_iter().map(|watch| {
        let better = match watch.level {
            Level::Stop | Level::Caution => Better::Worse,
            Level::Note => Better::Neither,
        };
        watched(watch, Kind::WatchAppeared(watch.level), "new", better)
    });
    let went = went.into_iter().map(|watch| {
        let better = match watch.level {
            Level::Stop | Level::Caution => Better::Better,
            Level::Note => Better::Neither,
        };
        watched(watch, Kind::WatchWent(watch.level), "gone", better)
    });
    appeared.chain(went).collect()
}

/// Strikes one of each pair off both lists.
fn pair_off(
    before: &mut Vec<&Watch>,
    after: &mut Vec<&Watch>,
    same: impl Fn(&Watch, &Watch) -> bool,
) {
    before.retain(|was| match after.iter().position(|is| same(was, is)) {
        Some(place) => {
            after.remove(place);
            false
        }
        None => true,
    });
}

fn without_numbers(watch: &Watch) -> impl Iterator<Item = char> {
    let number = |c: &char| c.is_ascii_digit() || matches!(c, '.' | '-' | ':');
    watch.message.chars().filter(move |c| !number(c))
}

fn watched(watch: &Watch, kind: Kind, changed: &str, better: Better) -> Change {
    Change {
        kind,
        what: format!("{changed} {}: {}", watch.level, watch.message),
        unit: "",
        before: None,
        after: None,
        before_at: None,
        after_at: None,
        better,
        meaning: watch.source.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{LimitFinding, Wall};
    use crate::sample;

    /// What changes when the sample is changed in this way.
    fn after(change: impl Fn(&mut Findings)) -> Vec<String> {
        let before = sample::findings();
        let mut after = before.clone();
        change(&mut after);
        let changes = changes(&before, &after);
        changes.iter().map(Change::told).collect()
    }

    #[test]
    fn nothing_changed_is_an_empty_list() {
        assert!(after(|_| ()).is_empty());
        assert!(after(|f| f.cup.coverage_after_reaming += 1e-12).is_empty());
        assert_eq!(after(|f| f.cup.coverage_after_reaming += 1e-6).len(), 1);
    }

    #[test]
    fn numbers_are_told_in_order_and_better_only_where_the_trade_agrees() {
        let told = after(|f| {
            f.cup.coverage_after_reaming = 0.8;
            f.cup.coverage_by_hour[6] = 0.3;
            f.cup.rim_contact = 0.6;
            f.cup.interference_mm = 2.0;
            f.cup.centre_shift.medial_mm = 1.0;
            f.cup.centre_shift.anterior_mm = 0.0;
            f.cup.overhang[3].proud_mm = 1.0;
            let last = f.reaming.last_mut().unwrap();
            last.cumulative_removed_mm3 += 1000.0;
            last.thinnest_wall = Some(last.walls[1].clone());
        });
        assert_eq!(
            told,
            [
                "coverage after reaming 74.1 % to 80.0 %, better",
                "coverage of the worst sector 38.0 % (6:00) to 30.0 % (6:00), worse",
                "rim contact 54.2 % to 60.0 %, better",
                "bone removed 5.23 cm³ to 6.23 cm³, worse",
                "thinnest wall 3.2 mm (medial 10:30) to 9.4 mm (posterior 8:00), better",
                "largest overhang 6.3 mm (1:30) to 5.2 mm (2:00), better",
                "nominal interference 1.0 mm to 2.0 mm",
                "hip-centre shift, medial 2.0 mm to 1.0 mm",
                "hip-centre shift, anterior -2.0 mm to 0.0 mm",
                "hip-centre shift 3.0 mm to 1.4 mm",
            ]
        );
    }

    #[test]
    fn each_number_comes_with_its_unit_and_definition() {
        let before = sample::findings();
        let mut after = before.clone();
        after.cup.rim_contact = 0.1;
        let change = &changes(&before, &after)[0];
        assert_eq!(change.kind, Kind::Number(Quantity::RimContact));
        assert_eq!((change.before, change.after), (Some(0.5417), Some(0.1)));
        assert_eq!((change.unit, change.better), ("share", Better::Worse));
        assert_eq!(change.meaning, Quantity::RimContact.meaning());
    }

    #[test]
    fn a_wall_that_was_not_met_is_neither_better_nor_worse() {
        let told = after(|f| f.reaming.last_mut().unwrap().thinnest_wall = None);
        assert_eq!(
            told,
            ["thinnest wall 3.2 mm (medial 10:30) to not measured"]
        );
        assert_eq!(Wall::Medial.to_string(), "medial");
    }

    #[test]
    fn a_limit_is_told_when_it_is_newly_broken_or_kept() {
        let told = after(|f| {
            f.limits[0].met = false;
            f.limits[1].met = true;
        });
        assert_eq!(
            told,
            [
                "limit broken: coverage after reaming at least 70.0 %, worse",
                "limit kept: thinnest wall at least 4.0 mm, better",
            ]
        );
    }

    #[test]
    fn another_limit_makes_a_plan_neither_better_nor_worse() {
        let told = after(|f| {
            let (asked, met) = (3.0, true);
            f.limits[1] = LimitFinding {
                asked,
                met,
                ..f.limits[1].clone()
            };
            f.limits.push(LimitFinding {
                limit: "max_overhang_mm".into(),
                asked: 5.0,
                found: Some(6.3),
                met: false,
            });
        });
        assert_eq!(
            told,
            [
                "limit kept: thinnest wall at least 3.0 mm",
                "limit broken: largest overhang at most 5.0 mm",
            ]
        );
        assert!(after(|f| f.limits.clear()).is_empty(), "no longer asked");
    }

    #[test]
    fn what_to_watch_is_told_when_it_appears_or_goes() {
        let told = after(|f| {
            f.watch = vec![
                sample::watch(Level::Stop, "the cup is 1.0 mm smaller"),
                sample::watch(Level::Note, "no cup of 53 mm in the set"),
            ];
        });
        assert_eq!(
            told,
            [
                "new stop: the cup is 1.0 mm smaller, worse",
                "new note: no cup of 53 mm in the set",
                "gone caution: the edge stands 6.3 mm proud in front, at 1:30 o'clock, better",
            ]
        );
    }

    #[test]
    fn something_to_watch_with_other_numbers_is_still_the_same() {
        let other = "the edge stands 7.1 mm proud in front, at 2:00 o'clock";
        let caution = |text| sample::watch(Level::Caution, text);
        assert!(after(|f| f.watch = vec![caution(other)]).is_empty());
        let told = after(|f| f.watch.insert(0, caution(other)));
        assert_eq!(told, [format!("new caution: {other}, worse")]);
    }
}
