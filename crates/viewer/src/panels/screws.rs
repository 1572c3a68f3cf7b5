//! The longest safe screw of each quadrant as a thin line over the picture, as if bone were glass.

use bevy_egui::egui::{Align2, Color32, Painter, Stroke};
use cupwright_anatomy::Hour;
use cupwright_procedure::findings::Shift;
use cupwright_procedure::screws::ScrewFinding;
use cupwright_procedure::{Bone, Placed};
use cupwright_report::words::fixed;
use nalgebra::{Point3, Vector3};

use super::answers::quadrant_colour;
use super::overlay::outlined;
use super::{Desk, pos2};
use crate::desk::view::Page;
use crate::scene::eye::Lens;
use crate::scene::ground::Ground;

/// Draws them where the page of the hold is open and the cup is in.
pub(super) fn draw(painter: &Painter, lens: &Lens, desk: &Desk<'_>) {
    let view = &*desk.view;
    let is_hold = view.is_bench && view.answers_panel && view.page == Page::Hold;
    if !(is_hold && view.screws && view.shows_cup(desk.plan.reamers())) {
        return;
    }
    let found = desk.answers.findings.as_ref();
    let found = found.and_then(|findings| findings.screws.as_ref());
    let found = found.filter(|screws| screws.unreliable_because.is_empty());
    let (Some(screws), Some(bone)) = (found, desk.answers.bone()) else {
        return;
    };
    let Ok(cup) = Placed::cup(desk.plan.case(), bone) else {
        return;
    };
    let ground = Ground::of(bone);
    for quadrant in &screws.quadrants {
        let best = quadrant.best.as_ref();
        let Some((screw, mm)) = best.and_then(|screw| Some((screw, screw.longest_safe_mm?))) else {
            continue;
        };
        let ends = ends(screw, mm, &cup, bone).map(|end| lens.seen(ground.point(&end)));
        if let [Some(hole), Some(tip)] = ends.map(|end| end.map(pos2)) {
            let colour = quadrant_colour(quadrant.quadrant);
            let halo = Stroke::new(5.0, Color32::from_white_alpha(150));
            painter.line_segment([hole, tip], halo);
            painter.line_segment([hole, tip], Stroke::new(2.0, colour));
            painter.circle(hole, 3.5, colour, Stroke::new(1.0, Color32::WHITE));
            let told = format!("screw, {} mm", fixed(mm, 0));
            outlined(painter, tip, Align2::CENTER_BOTTOM, &told, 11.0, colour);
        }
    }
}

/// Where a screw goes in and where its tip comes to lie, in the bone's own coordinates.
fn ends(screw: &ScrewFinding, mm: f64, cup: &Placed, bone: &Bone) -> [Point3<f64>; 2] {
    let (sin, cos) = screw.from_pole_deg.to_radians().sin_cos();
    let head = cup.head();
    let around = cup.toward(Hour::from_hours(screw.clock_h));
    let out: Vector3<f64> = around * sin - head.axis().into_inner() * cos;
    let hole = head.centre() + out * head.radius();
    let [medial_mm, superior_mm, anterior_mm] = screw.toward;
    let along = bone.vector(Shift {
        medial_mm,
        superior_mm,
        anterior_mm,
    });
    [hole, hole + along * mm]
}
