use super::*;
use crate::sample;
use crate::sheet::Picture;
use crate::words::CLOCK;
use cupwright_procedure::joint::map::{MapCell, MotionMap};
use cupwright_procedure::joint::{JointFinding, Movement};

fn of(findings: &Findings) -> String {
    document(&CaseSheet::from(findings)).unwrap()
}

/// A map of four directions, of which one lacks something.
fn map() -> MotionMap {
    let cell = |margin_deg| MapCell {
        margin_deg,
        limiting: Movement::Flexion,
        needed_oscillation_deg: 130.0,
    };
    MotionMap {
        inclination_deg: vec![40.0, 45.0],
        anteversion_deg: vec![10.0, 15.0],
        cells: vec![vec![cell(-3.0), cell(4.0)], vec![cell(2.0), cell(11.0)]],
        best: [1, 1],
        free_share: 0.75,
    }
}

/// What is read, without elements; no text of ours has a `<` of its own left in it.
fn read(document: &str) -> String {
    let body = document.split_once("</head>").unwrap().1;
    let parts = body
        .split('<')
        .map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    one_line(&parts.collect::<Vec<_>>().join(" "))
}

use crate::words::one_line;

#[test]
fn sections_follow_the_order_of_a_surgeons_questions() {
    let findings = sample::right();
    let map = map();
    let sheet = CaseSheet {
        motion_map: Some(&map),
        ..CaseSheet::from(&findings)
    };
    let document = document(&sheet).unwrap();
    let places: Vec<_> = [
        "in-short",
        "cost",
        "left",
        "cup",
        "hold",
        "screws",
        "liner",
        "balls",
        "motion",
        "directions",
        "version",
        "watch",
        "limits",
        "notes",
        "reading",
    ]
    .map(|id| {
        document
            .find(&format!("<section id=\"{id}\""))
            .unwrap_or_else(|| panic!("{id}"))
    })
    .into();
    assert!(places.is_sorted());
}

#[test]
fn notes_and_names_from_outside_are_text_and_no_markup() {
    let mut findings = sample::right();
    findings.notes =
        "first <script>alert('mine')</script>\n<img src=x onerror=alert(1)> \" & '".into();
    findings.bone.source = "</title><script>a()</script>".into();
    findings.frame.reference = "<b onload=b()>".into();
    findings.watch[0].message = "<svg onload=c()>".into();
    findings.watch[0].source = "<iframe src=d>".into();
    findings.limits[0].limit = "<style>".into();
    findings.no_joint = Some("<object>".into());
    let pixel = include_bytes!("../../../../../assets/pictures/wall.png").to_vec();
    let pictures = [Picture::from_png("<embed onclick=\"e()\">.png", pixel).unwrap()];
    for joint in [findings.joint.clone(), None] {
        findings.joint = joint;
        let sheet = CaseSheet {
            pictures: &pictures,
            ..CaseSheet::from(&findings)
        };
        let document = document(&sheet).unwrap();
        for element in [
            "<script",
            "<img src=x",
            "<b ",
            "<svg onload",
            "<iframe",
            "<object",
            "<embed",
        ] {
            assert!(!document.contains(element), "{element}");
        }
        assert_eq!(document.matches("<style>").count(), 1);
        assert_eq!(document.matches("<title>").count(), 1);
        assert!(document.contains("first &lt;script&gt;alert(&#39;mine&#39;)&lt;/script&gt;"));
    }
}

#[test]
fn no_identifier_is_given_twice() {
    let document = of(&sample::right());
    let ids = document.split(" id=\"").skip(1);
    let mut ids: Vec<_> = ids.map(|rest| rest.split_once('"').unwrap().0).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert!(count > 20);
    assert_eq!(ids.len(), count);
}

#[test]
fn every_figure_has_words_for_those_who_do_not_see_it_and_a_caption() {
    let document = of(&sample::right());
    let figures = document.matches("<figure").count();
    assert_eq!(figures, 4);
    assert_eq!(
        document.matches("role=\"img\" aria-label=\"").count(),
        figures
    );
    assert_eq!(document.matches("<figcaption>").count(), figures);
    let tables = document.matches("<table>").count();
    assert_eq!(document.matches("<caption>").count(), tables);
    assert!(!document.contains("aria-label=\"\""));
}

#[test]
fn each_answer_of_the_report_is_on_the_sheet() {
    let findings = sample::right();
    let read = read(&of(&findings));
    for told in [
        "Right hip of average-male: socket 47.8 mm",
        "5.23 cm³",
        "3.2 mm (medial)",
        "covered in space, of its round side 75.3 %",
        "covered on a film, of its width 77 %",
        "centre-edge angle of the cup 21°",
        "840 N (210 to 2900)",
        "gap at the pole 1.2 mm (0.7 to 1.9)",
        "NOT possible",
        "jump distance",
        "(chosen)",
        "bone against bone was not searched",
        "STOP the medial wall is 3.2 mm thin [common practice, no published source]",
        "NOT met min_wall_mm: asked 4.000, found 3.200",
        "Limits: 1 of 3 NOT met",
        "Teaching case.",
        "hours run clockwise",
        "What is taken for granted",
        CLOCK,
        crate::CAUTION,
    ] {
        let told = told.replace('\'', "&#39;");
        assert!(read.contains(&told), "no {told:?} in {read}");
    }
}

#[test]
fn every_ball_and_every_movement_has_its_row() {
    let findings = sample::right();
    let document = of(&findings);
    let JointFinding { length, motion, .. } = findings.joint.as_ref().unwrap();
    let rows_of = |id: &str| {
        let from = document
            .split_once(&format!("<section id=\"{id}\""))
            .unwrap()
            .1;
        let section = from.split_once("</section>").unwrap().0;
        section.matches("<th scope=\"row\"").count()
    };
    assert_eq!(rows_of("balls"), length.balls.len());
    assert_eq!(rows_of("motion"), motion.movements.len());
    assert_eq!(rows_of("cost"), 4);
}

#[test]
fn a_map_tells_its_best_direction_and_this_cup() {
    let findings = sample::right();
    let map = map();
    let sheet = CaseSheet {
        motion_map: Some(&map),
        ..CaseSheet::from(&findings)
    };
    let document = document(&sheet).unwrap();
    assert!(document.contains("this cup, 40° / 15°"));
    assert!(document.contains("most to spare, 45° / 15°: 11°, least in flexion"));
    assert!(document.contains("75 % of the directions shown allow all that is needed"));
    assert!(!of(&findings).contains("Where else"));
    let mut empty = map;
    empty.cells.clear();
    let sheet = CaseSheet {
        motion_map: Some(&empty),
        ..CaseSheet::from(&findings)
    };
    assert!(!super::document(&sheet).unwrap().contains("Where else"));
}

#[test]
fn a_joint_that_cannot_be_says_why() {
    let mut findings = sample::right();
    findings.joint = None;
    findings.no_joint = Some("the head is too large".into());
    assert!(read(&of(&findings)).contains("NO JOINT the head is too large"));
}

#[test]
fn numbers_as_wide_as_they_come_are_told_without_harm() {
    for findings in [
        sample::widest(),
        sample::with_reamers(&[]),
        sample::with_reamers(&[f64::NAN; 3]),
    ] {
        let document = of(&findings);
        assert!(!document.contains("NaN") && document.len() < 300_000);
    }
}

#[test]
fn a_picture_is_held_in_the_sheet_with_its_size_and_name() {
    let findings = sample::right();
    let bytes = include_bytes!("../../../../../assets/pictures/wall.png").to_vec();
    let pictures = [Picture::from_png("wall.png", bytes).unwrap()];
    let [width, height] = pictures[0].size();
    let sheet = CaseSheet {
        pictures: &pictures,
        ..CaseSheet::from(&findings)
    };
    let document = document(&sheet).unwrap();
    assert!(document.contains("<img src=\"data:image/png;base64,iVBORw0KGgo"));
    assert!(document.contains(&format!(
        "width=\"{width}\" height=\"{height}\" alt=\"Picture wall.png"
    )));
}

#[test]
fn the_same_findings_give_the_same_bytes() {
    assert_eq!(of(&sample::left()), of(&sample::left()));
}
