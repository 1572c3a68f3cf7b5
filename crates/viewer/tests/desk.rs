//! The bench without its picture: what is asked is done, answered, and taken back.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::PathBuf;
use std::time::{Duration, Instant};

use bevy::MinimalPlugins;
use bevy::app::{App, Plugin};
use cupwright_procedure::case::{BoneEntry, ReamerEntry, ShiftEntry, SideEntry};
use cupwright_procedure::edit::Edit;
use cupwright_procedure::hold::quality::Quality;
use cupwright_procedure::joint::OffsetChoice;
use cupwright_procedure::quantity::Quantity;
use cupwright_procedure::{CaseFile, Findings};
use cupwright_viewer::desk::command::BINDINGS;
use cupwright_viewer::desk::view::{Page, Window};
use cupwright_viewer::desk::{
    Act, ActsPlugin, Answers, BoneOnBone, Command, Course, DeskPlugin, Notice, Plan, View,
};
use proptest::prelude::{ProptestConfig, any, prop, proptest};

fn demonstration() -> CaseFile {
    CaseFile::parse(include_str!("../../../assets/cases/demonstration.ron")).unwrap()
}

fn bench() -> App {
    on_bench(DeskPlugin)
}

/// A bench that does what is asked and works nothing out.
fn idle_bench() -> App {
    on_bench(ActsPlugin)
}

fn on_bench(plugin: impl Plugin) -> App {
    let mut app = App::new();
    app.add_plugins((MinimalPlugins, plugin))
        .insert_resource(Plan::new(demonstration(), None).unwrap());
    app
}

fn ask(app: &mut App, act: Act) {
    app.world_mut().write_message(act);
    app.update();
}

fn plan(app: &App) -> &Plan {
    app.world().resource::<Plan>()
}

fn text(app: &App) -> String {
    plan(app).file().to_text().unwrap()
}

/// Steps until the findings are those of the plan.
fn answered(app: &mut App) -> Findings {
    let start = Instant::now();
    loop {
        app.update();
        let answers = app.world().resource::<Answers>();
        if let Some(findings) = &answers.findings
            && answers.found == plan(app).revision()
            && !answers.is_busy()
        {
            return Findings::clone(findings);
        }
        assert!(start.elapsed() < Duration::from_secs(240), "no answer");
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn answers_follow_the_plan() {
    let mut app = bench();
    let before = answered(&mut app);
    assert_eq!(before.reaming.len(), 4);
    ask(
        &mut app,
        Act::Edit(Edit::CupCentre(ShiftEntry {
            medial_mm: -3.0,
            ..Default::default()
        })),
    );
    let after = answered(&mut app);
    assert!(after.cup.coverage < before.cup.coverage);
    // The tilt of the pelvis changes the frame and not the bone.
    let generation = app.world().resource::<Answers>().generation;
    ask(&mut app, Act::Edit(Edit::Tilt(10.0)));
    let tilted = answered(&mut app);
    assert!(app.world().resource::<Answers>().generation > generation);
    assert!((tilted.bone.volume_mm3 - after.bone.volume_mm3).abs() < 1e-9);
    assert!((tilted.frame.posterior_tilt_deg - 10.0).abs() < 1e-12);
    assert!((tilted.cup.coverage - after.cup.coverage).abs() > 1e-4);
}

#[test]
fn another_bone_is_made_and_undo_brings_the_first_back() {
    let mut app = bench();
    let man = answered(&mut app);
    let bone = BoneEntry::Preset {
        name: "shallow-1".into(),
        side: SideEntry::Left,
        overrides: std::collections::BTreeMap::new(),
        layers: false,
    };
    ask(&mut app, Act::Edit(Edit::Bone(bone)));
    let shallow = answered(&mut app);
    assert_eq!(shallow.bone.side, "left");
    assert!(shallow.cup.coverage < man.cup.coverage);
    ask(&mut app, Act::Do(Command::Undo));
    let again = answered(&mut app);
    assert_eq!(again.bone, man.bone);
    assert_eq!(again.cup, man.cup);
}

#[test]
fn a_drag_is_one_step_and_a_refusal_changes_nothing() {
    let mut app = idle_bench();
    let start = text(&app);
    let to = |medial_mm: f64| {
        Edit::CupCentre(ShiftEntry {
            medial_mm,
            ..Default::default()
        })
    };
    ask(&mut app, Act::Edit(to(1.0)));
    for k in 2..20_i32 {
        ask(&mut app, Act::Drag(to(f64::from(k))));
    }
    assert_eq!(plan(&app).depth(), (1, 0));
    ask(&mut app, Act::Do(Command::Undo));
    assert_eq!(text(&app), start);
    ask(&mut app, Act::Edit(Edit::CupDiameter(-4.0)));
    assert_eq!(text(&app), start);
    let notice = app.world().resource::<Notice>();
    assert!(
        notice.is_trouble && notice.text.contains("cup: diameter_mm is -4"),
        "{notice:?}"
    );
}

#[test]
fn a_case_is_saved_opened_and_the_plan_before_it_comes_back_with_undo() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plan with blanks ü.case.ron");
    let mut app = idle_bench();
    ask(&mut app, Act::Do(Command::Save));
    assert_eq!(app.world().resource::<View>().window, Some(Window::Save));
    ask(&mut app, Act::Do(Command::Resize(2.0)));
    assert!(plan(&app).is_changed());
    ask(&mut app, Act::Save(path.clone()));
    assert!(!plan(&app).is_changed());
    assert_eq!(CaseFile::read(&path).unwrap(), *plan(&app).file());

    ask(&mut app, Act::Do(Command::AddReamer));
    let changed = text(&app);
    ask(&mut app, Act::Open(path.clone()));
    assert_eq!(CaseFile::read(&path).unwrap(), *plan(&app).file());
    ask(&mut app, Act::Do(Command::Undo));
    assert_eq!(text(&app), changed);
    assert!(plan(&app).is_changed());
    ask(&mut app, Act::Do(Command::Redo));
    assert!(!plan(&app).is_changed());
}

#[test]
fn a_bone_beside_the_case_is_found_again_when_the_case_is_saved_elsewhere() {
    let [near, far] = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let ball = cupwright_geometry::samples::sphere(60.0, 3);
    let mesh = near.path().join("bone.stl");
    cupwright_io::write_mesh(&mesh, &ball, cupwright_io::Format::StlBinary).unwrap();
    let text = r#"(version: 1, orientation: Radiographic, reamers: [(diameter_mm: 40)],
        bone: File(path: "bone.stl", side: Right, axes: Pelvic, hip_centre_mm: (60, 0, 0), socket_diameter_mm: 40),
        cup: (diameter_mm: 40, inclination_deg: 45, anteversion_deg: 15))"#;
    let case = near.path().join("a.ron");
    std::fs::write(&case, text).unwrap();
    let mut app = bench();
    ask(&mut app, Act::Open(case));
    let before = answered(&mut app);
    let moved = far.path().join("b.ron");
    ask(&mut app, Act::Save(moved.clone()));
    assert_eq!(
        app.world().resource::<Notice>().text,
        format!("saved {}", moved.display())
    );
    ask(&mut app, Act::Open(moved));
    let after = answered(&mut app);
    assert_eq!(after.cup, before.cup);
}

#[test]
fn what_cannot_be_opened_or_saved_is_told_and_the_plan_stays() {
    let folder = tempfile::tempdir().unwrap();
    let mut app = bench();
    ask(&mut app, Act::Do(Command::Resize(1.0)));
    let start = text(&app);
    let broken = folder.path().join("broken.ron");
    std::fs::write(&broken, "(version: 1, bone: Nonsense)").unwrap();
    let told = |app: &mut App, act: Act, words: &str| {
        ask(app, act);
        let notice = app.world().resource::<Notice>();
        assert!(
            notice.is_trouble && notice.text.contains(words),
            "{notice:?}"
        );
    };
    told(&mut app, Act::Open(broken), "broken.ron");
    told(
        &mut app,
        Act::Open(folder.path().join("missing.ron")),
        "no such file",
    );
    told(
        &mut app,
        Act::Save(folder.path().to_owned()),
        "this is a folder",
    );
    told(
        &mut app,
        Act::Save(PathBuf::from("/nowhere/at/all.ron")),
        "there is no folder",
    );
    assert_eq!(text(&app), start);
    // A mesh that is not there is opened as a bone, told when it is looked for, and taken back.
    ask(&mut app, Act::Open(folder.path().join("missing.stl")));
    let begun = Instant::now();
    while app.world().resource::<Answers>().no_bone.is_none() {
        app.update();
        assert!(begun.elapsed() < Duration::from_secs(240));
    }
    assert!(
        app.world()
            .resource::<Notice>()
            .text
            .contains("missing.stl")
    );
    ask(&mut app, Act::Do(Command::Undo));
    assert_eq!(text(&app), start);
    answered(&mut app);
}

#[test]
fn a_lesson_checks_its_goals_from_the_findings() {
    let mut app = bench();
    ask(&mut app, Act::Learn(0));
    let lesson = app.world().resource::<Course>().lesson.clone().unwrap();
    let page = lesson
        .steps
        .iter()
        .position(|step| !step.task.is_empty())
        .unwrap();
    for _ in 0..page {
        ask(&mut app, Act::Do(Command::LessonOn));
    }
    assert_eq!(app.world().resource::<Course>().page, page);
    let step = &lesson.steps[page];
    let start = step
        .start
        .as_ref()
        .map_or_else(|| lesson.case_before(page), |p| p.on(&lesson.case));
    ask(&mut app, Act::Edit(Edit::Whole(Box::new(start))));
    let met = |findings: &Findings| step.progress(findings).iter().all(|goal| goal.met);
    assert!(!met(&answered(&mut app)));
    let solved = step.solution.as_ref().unwrap().on(&lesson.case);
    ask(&mut app, Act::Edit(Edit::Whole(Box::new(solved))));
    assert!(met(&answered(&mut app)));
}

#[test]
fn a_lesson_of_one_s_own_is_opened_like_a_case() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.ron");
    let text = include_str!("../../../assets/lessons/press-fit.ron");
    std::fs::write(&path, text.replacen("title: \"", "title: \"Mine: ", 1)).unwrap();
    let mut app = idle_bench();
    ask(&mut app, Act::Open(path.clone()));
    let title = app
        .world()
        .resource::<Course>()
        .lesson
        .as_ref()
        .map(|lesson| lesson.title.clone());
    assert!(title.unwrap().starts_with("Mine: "));
    // A slip in it is told as one of a lesson, with its line.
    std::fs::write(&path, text.replacen("steps:", "nonsense: 1, steps:", 1)).unwrap();
    ask(&mut app, Act::Open(path));
    let notice = app.world().resource::<Notice>();
    assert!(
        notice.is_trouble && notice.text.contains("nonsense") && notice.text.contains("line"),
        "{notice:?}"
    );
}

#[test]
fn the_step_that_is_looked_at_stays_where_it_means_the_same() {
    let mut app = idle_bench();
    app.update();
    let step = |app: &App| app.world().resource::<View>().step;
    ask(&mut app, Act::Do(Command::LastStep));
    assert_eq!(step(&app), 5);
    ask(&mut app, Act::Do(Command::AddReamer));
    assert_eq!(step(&app), 6, "the cup stays the cup");
    ask(&mut app, Act::GoTo(5));
    ask(&mut app, Act::Do(Command::RemoveReamer));
    assert_eq!(
        step(&app),
        4,
        "a reamer that is gone makes way for the one before"
    );
    ask(&mut app, Act::Do(Command::FirstStep));
    ask(&mut app, Act::Do(Command::Play));
    let view = app.world().resource::<View>();
    assert!(view.playing && view.step == 1 && view.away > 0.9);
}

#[test]
fn each_page_of_answers_has_a_key_that_opens_it() {
    let mut app = idle_bench();
    for page in [Page::Hold, Page::Joint, Page::Socket] {
        ask(&mut app, Act::Do(Command::AnswersPanel));
        let mut bound = BINDINGS.iter();
        let key = bound.find(|bound| bound.command == Command::Page(page));
        ask(&mut app, Act::Do(key.unwrap().command));
        let view = app.world().resource::<View>();
        assert!(view.page == page && view.answers_panel);
    }
    assert_eq!(plan(&app).depth(), (0, 0));
}

#[test]
fn a_ball_that_is_chosen_is_one_change_and_the_leg_follows() {
    let mut app = bench();
    let before = answered(&mut app);
    let start = text(&app);
    let length = &before.joint.as_ref().unwrap().length;
    let nearest = length.balls[length.chosen].miss_mm;
    assert!(length.balls.iter().all(|ball| ball.miss_mm >= nearest));
    let far = length
        .balls
        .iter()
        .find(|ball| ball.version == OffsetChoice::High && (ball.ball_mm - 7.0).abs() < 1e-9);
    let far = far.unwrap().clone();
    let edit = plan(&app).ball(Some((far.ball_mm, far.version)));
    ask(&mut app, Act::Edit(edit));
    assert_eq!(plan(&app).depth(), (1, 0));
    let after = answered(&mut app);
    let told = |quantity: Quantity| quantity.of(&after).unwrap();
    assert!((told(Quantity::LegLengthMm) - far.leg_length_mm).abs() < 1e-9);
    // The versions differ in offset alone.
    assert!((told(Quantity::TotalOffsetMm) - far.total_offset_mm).abs() < 1e-9);
    assert_eq!(after.cup, before.cup);
    ask(&mut app, Act::Do(Command::Undo));
    assert_eq!(text(&app), start);
    assert_eq!(answered(&mut app).joint, before.joint);
}

#[test]
fn a_joint_that_cannot_be_is_told_and_every_other_answer_stays_live() {
    let mut app = bench();
    answered(&mut app);
    assert!(app.world().resource::<Answers>().map.is_some());
    let [too_large, smaller] = [40.0, 28.0].map(|mm| Act::Edit(plan(&app).head(mm)));
    ask(&mut app, too_large);
    ask(&mut app, Act::Edit(Edit::CupDiameter(44.0)));
    let refused = answered(&mut app);
    let why = refused.no_joint.as_ref().unwrap();
    assert!(
        refused.joint.is_none() && why.contains("liner wall of -2.10 mm"),
        "{why}"
    );
    assert!(app.world().resource::<Answers>().map.is_none());
    assert!((refused.cup.diameter_mm - 44.0).abs() < 1e-12);
    assert!((refused.press_fit.nominal_interference_mm + 9.0).abs() < 1e-9);
    ask(&mut app, Act::Do(Command::BoneOnBone));
    let notice = app.world().resource::<Notice>();
    assert!(
        notice.is_trouble && notice.text.contains("no joint"),
        "{notice:?}"
    );
    // The cup that is moved is answered for, joint or not.
    ask(&mut app, Act::Do(Command::Move([0.0, 2.0, 0.0])));
    assert!((answered(&mut app).cup.centre_shift.superior_mm - 3.0).abs() < 1e-9);
    ask(&mut app, smaller);
    assert!(answered(&mut app).joint.is_some());
}

#[test]
fn bone_on_bone_is_searched_when_asked_and_is_out_of_date_once_the_cup_has_moved() {
    let mut app = bench();
    ask(&mut app, Act::Do(Command::BoneOnBone));
    assert!(
        app.world()
            .resource::<Notice>()
            .text
            .contains("bone is still being made")
    );
    answered(&mut app);
    ask(&mut app, Act::Do(Command::BoneOnBone));
    let start = Instant::now();
    while app.world().resource::<BoneOnBone>().is_busy() {
        app.update();
        assert!(start.elapsed() < Duration::from_secs(240), "no answer");
    }
    let is_current = |app: &App| {
        let world = app.world();
        let searched = world.resource::<BoneOnBone>();
        searched.is_of(plan(app), world.resource::<Answers>())
    };
    let found = app
        .world()
        .resource::<BoneOnBone>()
        .found()
        .unwrap()
        .clone();
    assert_eq!(found.movements.len(), 10);
    assert!(
        found
            .movements
            .iter()
            .any(|movement| movement.range_deg.is_some())
    );
    assert!(is_current(&app));
    ask(&mut app, Act::Edit(Edit::Notes("another word".into())));
    assert!(is_current(&app), "words move no bone");
    ask(&mut app, Act::Do(Command::Move([1.0, 0.0, 0.0])));
    assert!(!is_current(&app));
    assert!(app.world().resource::<BoneOnBone>().found().is_some());
    ask(&mut app, Act::Do(Command::Undo));
    assert!(is_current(&app));
}

fn edits() -> Vec<Edit> {
    let reamer = ReamerEntry {
        diameter_mm: 50.5,
        centre: Some(ShiftEntry {
            anterior_mm: 0.1,
            ..Default::default()
        }),
        ..ReamerEntry::default()
    };
    let (mut mechanics, mut joint) = (demonstration().mechanics(), demonstration().joint());
    mechanics.press_fit.quality = Quality::Soft;
    mechanics.fallback.larger_mm = 4.1;
    joint.head.diameter_mm = 28.0;
    joint.stem.offset = Some(OffsetChoice::High);
    joint.target.leg_length_mm = -1.3;
    let mut refused = mechanics;
    refused.press_fit.friction = f64::NAN;
    vec![
        Edit::Mechanics(mechanics),
        Edit::Mechanics(refused),
        Edit::Joint(Box::new(joint)),
        Edit::CupCentre(ShiftEntry {
            medial_mm: 0.3,
            superior_mm: -1.7,
            anterior_mm: 2.1,
        }),
        Edit::CupAngles {
            inclination_deg: 43.3,
            anteversion_deg: -7.7,
        },
        Edit::AddReamer(1, reamer),
        Edit::ChangeReamer(0, reamer),
        Edit::Definition(cupwright_procedure::case::DefinitionEntry::Anatomic),
        Edit::Definition(cupwright_procedure::case::DefinitionEntry::Operative),
        Edit::Tilt(7.3),
        Edit::Notes("changed".into()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever was asked by keys and panels, undone to the end, gives the start bit for bit, and
    /// redone the end.
    #[test]
    fn everything_can_be_undone_and_done_again(
        asked in prop::collection::vec((any::<bool>(), any::<prop::sample::Index>()), 1..40)
    ) {
        let mut app = idle_bench();
        let start = text(&app);
        for (is_key, which) in &asked {
            let edits = edits();
            let act = if *is_key {
                Act::Do(which.get(BINDINGS).command)
            } else {
                Act::Edit(which.get(&edits).clone())
            };
            ask(&mut app, act);
        }
        let end = text(&app);
        let (back, again) = plan(&app).depth();
        for _ in 0..back {
            ask(&mut app, Act::Do(Command::Undo));
        }
        assert_eq!(text(&app), start);
        for _ in 0..back + again {
            ask(&mut app, Act::Do(Command::Redo));
        }
        for _ in 0..again {
            ask(&mut app, Act::Do(Command::Undo));
        }
        assert_eq!(text(&app), end);
    }
}
