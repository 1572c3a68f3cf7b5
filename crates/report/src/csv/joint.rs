//! Leg and offset by ball, and motion, as tables.

use std::io::{self, Write};

use ::csv::Writer;
use cupwright_procedure::Findings;
use cupwright_procedure::joint::OffsetChoice;
use cupwright_procedure::joint::bony::{BonyFinding, First};
use cupwright_procedure::joint::motion::{MotionFinding, MovementFinding};

use super::cell;

const BALL_HEADINGS: [&str; 10] = [
    "ball_mm",
    "version",
    "leg_length_mm",
    "total_offset_mm",
    "femoral_offset_mm",
    "anterior_mm",
    "off_target_mm",
    "nearest",
    "chosen",
    "said",
];

const MOTION_HEADINGS: [&str; 11] = [
    "movement",
    "neck_meets_liner_deg",
    "rim_clock_h",
    "leaves_clock_h",
    "needed_deg",
    "margin_deg",
    "met",
    "bone_meets_bone_deg",
    "bone_clock_h",
    "femur_part",
    "first",
];

/// Writes one row for each ball on each version of the stem, against the native joint: longer, more and
/// forward positive.
///
/// `off_target_mm` is the distance from what was asked for; `nearest` and `chosen` read `yes` in one row
/// each. Without a joint there are the headings alone.
///
/// # Errors
/// When `out` refuses.
pub fn write_balls(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    let mut table = Writer::from_writer(out);
    table.write_record(BALL_HEADINGS)?;
    let length = findings.joint.iter().map(|joint| &joint.length);
    for found in length {
        for (k, ball) in found.balls.iter().enumerate() {
            let version = match ball.version {
                OffsetChoice::Standard => "standard",
                OffsetChoice::High => "high",
            };
            table.write_record([
                &*cell(ball.ball_mm),
                version,
                &*cell(ball.leg_length_mm),
                &*cell(ball.total_offset_mm),
                &*cell(ball.femoral_offset_mm),
                &*cell(ball.anterior_mm),
                &*cell(ball.miss_mm),
                yes_or_no(k == found.best),
                yes_or_no(k == found.chosen),
                &*ball.said,
            ])?;
        }
    }
    table.flush()
}

/// Writes one row for each movement: until the neck meets the liner, what is needed of it, and until bone
/// meets bone.
///
/// A range is empty where nothing limits it or nothing was searched; `first` says what ends a movement:
/// `implant`, `bone` or `neither`, and is empty where bone against bone was not searched. Without a joint
/// there are the headings alone.
///
/// # Errors
/// When `out` refuses.
pub fn write_motion(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    let mut table = Writer::from_writer(out);
    table.write_record(MOTION_HEADINGS)?;
    let bony = findings.bone_on_bone.as_ref();
    let motion = findings.joint.iter().map(|joint| &joint.motion);
    for found in motion {
        for movement in &found.movements {
            table.write_record(movement_cells(movement, found, bony))?;
        }
    }
    table.flush()
}

fn movement_cells(
    movement: &MovementFinding,
    motion: &MotionFinding,
    bony: Option<&BonyFinding>,
) -> [String; 11] {
    let number = |value: Option<f64>| value.map_or(String::new(), cell);
    let mut needs = motion.needs.iter();
    let need = needs.find(|need| need.movement == movement.movement);
    let bone = bony.and_then(|bony| {
        let mut movements = bony.movements.iter();
        movements.find(|bone| bone.movement == movement.movement)
    });
    let contact = bone.and_then(|bone| bone.contact.as_ref());
    let first = bone.map_or("", |bone| match bone.first {
        First::Implant => "implant",
        First::Bone => "bone",
        First::Neither => "neither",
    });
    [
        movement.movement.to_string(),
        number(movement.range_deg),
        number(movement.rim_clock_h),
        number(movement.leaves_clock_h),
        number(need.map(|need| need.needed_deg)),
        number(need.map(|need| need.margin_deg)),
        need.map_or("", |need| yes_or_no(need.met)).into(),
        number(bone.and_then(|bone| bone.range_deg)),
        number(contact.map(|contact| contact.clock_h)),
        contact.map_or(String::new(), |contact| contact.femur_part.to_string()),
        first.into(),
    ]
}

fn yes_or_no(is_so: bool) -> &'static str {
    if is_so { "yes" } else { "no" }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use cupwright_procedure::findings::Shift;
    use cupwright_procedure::joint::Movement;
    use cupwright_procedure::joint::bony::{BonyContact, BonyMovement};
    use cupwright_procedure::joint::femur::FemurPart;

    fn read(
        write: fn(&mut Vec<u8>, &Findings) -> io::Result<()>,
        findings: &Findings,
    ) -> Vec<Vec<String>> {
        let mut out = Vec::new();
        write(&mut out, findings).unwrap();
        let mut reader = ::csv::ReaderBuilder::new();
        let mut reader = reader.has_headers(false).from_reader(out.as_slice());
        let owned = |record: ::csv::StringRecord| record.iter().map(String::from).collect();
        reader
            .records()
            .map(|record| owned(record.unwrap()))
            .collect()
    }

    #[test]
    fn a_ball_is_a_row_and_one_of_them_is_chosen() {
        let findings = sample::right();
        let rows = read(write_balls, &findings);
        let length = &findings.joint.as_ref().unwrap().length;
        assert_eq!(rows.len(), 1 + length.balls.len());
        let chosen: Vec<_> = rows.iter().filter(|row| row[8] == "yes").collect();
        let ball = &length.balls[length.chosen];
        assert_eq!(chosen.len(), 1);
        assert_eq!(
            chosen[0][2].parse::<f64>().unwrap().to_bits(),
            ball.leg_length_mm.to_bits()
        );
        assert_eq!(chosen[0][9], ball.said);
    }

    #[test]
    fn a_movement_is_a_row_with_what_is_needed_of_it() {
        let findings = sample::right();
        let rows = read(write_motion, &findings);
        let motion = &findings.joint.as_ref().unwrap().motion;
        assert_eq!(rows.len(), 1 + motion.movements.len());
        let need = &motion.needs[0];
        let row = rows
            .iter()
            .find(|row| row[0] == need.movement.to_string())
            .unwrap();
        assert_eq!(row[4], need.needed_deg.to_string());
        assert_eq!(row[6], if need.met { "yes" } else { "no" });
        assert_eq!(row[7..], ["", "", "", ""]);
    }

    #[test]
    fn where_bone_meets_bone_stands_beside_it() {
        let mut findings = sample::right();
        let contact = BonyContact {
            on_pelvis: Shift::default(),
            place_mm: [0.0; 3],
            clock_h: 2.5,
            femur_part: FemurPart::GreaterTrochanter,
        };
        findings.bone_on_bone = Some(BonyFinding {
            ball_mm: 0.0,
            version: OffsetChoice::Standard,
            searched_to_deg: 170.0,
            movements: vec![BonyMovement {
                movement: Movement::Flexion,
                range_deg: Some(117.5),
                prosthetic_deg: Some(125.0),
                first: First::Bone,
                contact: Some(contact),
            }],
        });
        let rows = read(write_motion, &findings);
        let row = rows.iter().find(|row| row[0] == "flexion").unwrap();
        assert_eq!(row[7..], ["117.5", "2.5", "greater trochanter", "bone"]);
    }

    #[test]
    fn without_a_joint_there_are_headings_alone() {
        let mut findings = sample::right();
        findings.joint = None;
        assert_eq!(read(write_balls, &findings), [BALL_HEADINGS]);
        assert_eq!(read(write_motion, &findings), [MOTION_HEADINGS]);
    }
}
