//! Numbers and places in the words that every report and the bench share.

use cupwright_procedure::findings::{CupFinding, OverhangFinding, Shift};
use cupwright_procedure::hold::{Banded, PressFitFinding};
use cupwright_procedure::joint::version::RuleFinding;

/// From here on a number is written with an exponent, so that no column bursts.
const EXPONENT_FROM: f64 = 1e6;

/// How clock positions are to be read, wherever one is shown.
pub const CLOCK: &str =
    "12 o'clock is superior and 3 anterior on both sides, seen looking into the socket.";

/// `value` with this many decimals; `-` where it is not finite, and never `-0`.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "-".into();
    }
    if value.abs() >= EXPONENT_FROM {
        return format!("{value:.1e}");
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| matches!(c, '0' | '.')) => zero.into(),
        _ => text,
    }
}

/// `value` as in [`fixed`], but a trace that would round to nothing is told as less than the last
/// digit.
pub fn trace(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    let last_digit = 0.1_f64.powi(i32::try_from(decimals).unwrap_or(0));
    if value > 0.0 && text == fixed(0.0, decimals) {
        format!("<{}", fixed(last_digit, decimals))
    } else {
        text
    }
}

/// A share from 0 to 1 as a percentage.
pub fn percent(share: f64, decimals: usize) -> String {
    format!("{} %", fixed(100.0 * share, decimals))
}

/// An estimate and its range: `1240 N (610 to 2900)`; without the range where it rounds to nothing.
pub fn banded(band: &Banded, decimals: usize, unit: &str) -> String {
    let value = |v| fixed(v, decimals);
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    };
    if value(band.low) == value(band.high) {
        return format!("{}{unit}", value(band.mid));
    }
    format!(
        "{}{unit} ({} to {})",
        value(band.mid),
        value(band.low),
        value(band.high)
    )
}

/// Shares from 0 to 1 in percent.
pub fn in_percent(share: &Banded) -> Banded {
    Banded {
        low: 100.0 * share.low,
        mid: 100.0 * share.mid,
        high: 100.0 * share.high,
    }
}

/// A change of a length and which way it goes: `2.1 mm longer`, `as before`.
pub fn way(mm: f64, more: &str, less: &str) -> String {
    match fixed(mm.abs(), 1).as_str() {
        "0.0" => "as before".into(),
        told if mm > 0.0 => format!("{told} mm {more}"),
        told => format!("{told} mm {less}"),
    }
}

/// mm³ as a number of cm³.
pub fn cm3(mm3: f64) -> f64 {
    mm3 / 1000.0
}

/// A clock position in hours, to the nearest five minutes: `1:30`.
pub fn clock(hours: f64) -> String {
    if !hours.is_finite() {
        return "-".into();
    }
    let minutes = ((hours * 12.0).round() * 5.0).rem_euclid(720.0);
    let hour = (minutes / 60.0).floor();
    let shown = if hour < 1.0 { 12.0 } else { hour };
    format!("{shown:.0}:{:02.0}", minutes - 60.0 * hour)
}

/// A direction in degrees from 12 o'clock as a clock position.
pub fn clock_at(degrees: f64) -> String {
    clock(degrees / 30.0)
}

/// A displacement from the native hip centre: `2.0 mm medial, 1.0 mm superior of the native one`.
pub fn from_native(shift: &Shift) -> String {
    let told: Vec<_> = [
        (shift.medial_mm, "medial", "lateral"),
        (shift.superior_mm, "superior", "inferior"),
        (shift.anterior_mm, "anterior", "posterior"),
    ]
    .into_iter()
    .filter(|(mm, ..)| fixed(*mm, 1) != "0.0")
    .map(|(mm, toward, away)| {
        let direction = if mm < 0.0 { away } else { toward };
        format!("{} mm {direction}", fixed(mm.abs(), 1))
    })
    .collect();
    if told.is_empty() {
        "where the native one is, to 0.1 mm".into()
    } else {
        format!("{} of the native one", told.join(", "))
    }
}

/// The place where the edge stands proudest of bone; `None` where it does so nowhere.
pub fn worst_overhang(cup: &CupFinding) -> Option<OverhangFinding> {
    let proud = cup.overhang.iter().filter(|place| place.proud_mm > 0.0);
    proud
        .copied()
        .max_by(|a, b| a.proud_mm.total_cmp(&b.proud_mm))
}

/// Whether the subchondral plate is in the estimates.
pub fn plate(found: &PressFitFinding) -> &'static str {
    if found.plate_is_known {
        "what is left of the subchondral plate counts"
    } else {
        "no subchondral plate"
    }
}

/// The sum that a rule of cup and stem asks for: `37.3°`, or `25 to 45°`.
pub fn sum_asked(rule: &RuleFinding) -> String {
    let [least, most] = rule.asked_deg.map(|deg| fixed(deg, 0));
    if least == most {
        format!("{}°", fixed(rule.asked_deg[0], 1))
    } else {
        format!("{least} to {most}°")
    }
}

/// `text` on one line: blanks in place of control characters, none doubled.
pub fn one_line(text: &str) -> String {
    let visible: Vec<_> = text
        .split(|c: char| c.is_whitespace() || c.is_control())
        .filter(|word| !word.is_empty())
        .collect();
    visible.join(" ")
}

/// [`one_line`] of at most this many characters.
pub fn shortened(text: &str, most: usize) -> String {
    let line = one_line(text);
    if line.chars().count() <= most {
        return line;
    }
    let kept: String = line.chars().take(most.saturating_sub(1)).collect();
    format!("{kept}…")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_has_its_decimals_and_no_negative_zero() {
        assert_eq!(fixed(1.25, 1), "1.2");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(-0.06, 1), "-0.1");
        assert_eq!(fixed(-10.0, 0), "-10");
    }

    #[test]
    fn a_number_that_is_none_is_a_dash_and_a_huge_one_stays_short() {
        assert_eq!(fixed(f64::NAN, 1), "-");
        assert_eq!(fixed(f64::INFINITY, 1), "-");
        assert_eq!(percent(f64::NAN, 0), "- %");
        assert_eq!(fixed(-123_456_789.0, 2), "-1.2e8");
    }

    #[test]
    fn a_trace_is_not_nothing() {
        assert_eq!(trace(0.004, 2), "<0.01");
        assert_eq!(trace(0.0, 2), "0.00");
        assert_eq!(trace(0.3, 0), "<1");
        assert_eq!(trace(5.0, 2), "5.00");
    }

    #[test]
    fn the_clock_runs_from_twelve_to_twelve() {
        let read = [0.0, 0.5, 1.49, 11.99, 12.0, 12.75, -0.5].map(clock);
        assert_eq!(
            read,
            ["12:00", "12:30", "1:30", "12:00", "12:00", "12:45", "11:30"]
        );
        assert_eq!(clock_at(45.0), "1:30");
        assert_eq!(clock_at(390.0), "1:00");
    }

    #[test]
    fn a_shift_is_told_by_direction_and_without_its_noughts() {
        let moved = Shift {
            medial_mm: 2.0,
            superior_mm: -1.04,
            anterior_mm: 0.04,
        };
        assert_eq!(
            from_native(&moved),
            "2.0 mm medial, 1.0 mm inferior of the native one"
        );
        assert_eq!(
            from_native(&Shift::default()),
            "where the native one is, to 0.1 mm"
        );
    }

    #[test]
    fn an_estimate_is_told_with_its_range_where_it_has_one() {
        let band = |low, mid, high| Banded { low, mid, high };
        assert_eq!(
            banded(&band(0.4, 1.25, 2.0), 1, "mm"),
            "1.2 mm (0.4 to 2.0)"
        );
        assert_eq!(banded(&band(0.99, 1.0, 1.01), 1, "mm"), "1.0 mm");
        let share = in_percent(&band(0.1, 0.2, 0.3));
        assert_eq!(banded(&share, 0, ""), "20 (10 to 30)");
        let told = [2.14, -0.06, 0.04].map(|mm| way(mm, "longer", "shorter"));
        assert_eq!(told, ["2.1 mm longer", "0.1 mm shorter", "as before"]);
    }

    #[test]
    fn text_loses_its_control_characters_and_what_is_too_long() {
        assert_eq!(one_line("a\u{1b}[31m\n b\tc"), "a [31m b c");
        assert_eq!(shortened("abcdef", 6), "abcdef");
        assert_eq!(shortened("abcdefg", 6), "abcde…");
    }
}
