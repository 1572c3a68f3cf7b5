//! Windows in front of the picture: help, files, bones, lessons.

use std::path::{Path, PathBuf};

use bevy_egui::egui::{self, Align2, Context, Grid, Key, RichText, ScrollArea, TextEdit, Ui};
use cupwright_anatomy::synthetic::Preset;
use cupwright_procedure::case::{BoneEntry, SideEntry};
use cupwright_procedure::edit::Edit;
use cupwright_procedure::lesson::{BadLesson, Lesson};

use super::{Desk, field, plan, theme};
use crate::desk::Act;
use crate::desk::command::{BINDINGS, Command, Group, printed};
use crate::desk::view::Window;

/// What the windows remember from frame to frame.
#[derive(Default)]
pub(super) struct Memory {
    shown: Option<Window>,
    folder: PathBuf,
    name: String,
    side: Option<SideEntry>,
    /// What is in the folder, once it has been looked into.
    listed: Option<(PathBuf, Listing)>,
    /// The lessons that come with the program, once they have been read.
    lessons: Option<Result<Vec<Lesson>, BadLesson>>,
    /// The presets and what they are, once they have been read.
    presets: Vec<(&'static str, String)>,
}

/// Folders and files, by name.
type Listing = (Vec<String>, Vec<String>);

pub(super) fn show(ctx: &Context, desk: &mut Desk<'_>, memory: &mut Memory) {
    let Some(window) = desk.view.window else {
        memory.shown = None;
        return;
    };
    let is_new = memory.shown.replace(window) != Some(window);
    if is_new {
        memory.begin(window, desk);
    }
    let title = match window {
        Window::Help => "First steps, and every key",
        Window::Open => "Open a case, a lesson or a bone",
        Window::Save => "Save the case",
        Window::Lessons => "Lessons",
        Window::Bone => "Choose a bone",
        Window::Leave => "Leave the bench?",
    };
    let mut open = true;
    let room = ctx.viewport_rect().size();
    egui::Window::new(title)
        .open(&mut open)
        .collapsible(false)
        .resizable(false)
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .default_width((room.x - 60.0).min(620.0))
        .max_height(room.y - 90.0)
        .show(ctx, |ui| match window {
            Window::Help => help(ui, room.y - 170.0),
            Window::Open => choose(ui, desk, memory, is_new, Purpose::Open),
            Window::Save => choose(ui, desk, memory, is_new, Purpose::Save),
            Window::Lessons => lessons(ui, desk.acts, memory),
            Window::Bone => bones(ui, desk, memory),
            Window::Leave => leave(ui, desk),
        });
    if !open {
        desk.view.window = None;
    }
}

impl Memory {
    /// What is in the folder; looked up when the folder changes.
    fn listing(&mut self) -> Listing {
        let known = self
            .listed
            .take()
            .filter(|(folder, _)| *folder == self.folder);
        let (_, listing) = known.unwrap_or_else(|| (self.folder.clone(), listed(&self.folder)));
        self.listed = Some((self.folder.clone(), listing.clone()));
        listing
    }

    fn begin(&mut self, window: Window, desk: &Desk<'_>) {
        let folder = if desk.plan.folder.as_os_str().is_empty() {
            std::env::current_dir().unwrap_or_default()
        } else {
            desk.plan.folder.clone()
        };
        self.folder = std::path::absolute(&folder).unwrap_or(folder);
        self.listed = None;
        self.name = match (window, &desk.plan.path) {
            (Window::Save, Some(path)) => path
                .file_name()
                .map(|n| n.display().to_string())
                .unwrap_or_default(),
            (Window::Save, None) => "my-plan.case.ron".into(),
            _ => String::new(),
        };
        self.side = Some(desk.plan.file().bone.side().into());
    }
}

const FIRST_STEPS: [&str; 6] = [
    "The bench opens on a synthetic pelvis with a plan: four reamers and a cup. All of it is invented.",
    "Drag the picture to turn it, with the right button to move it; roll to come nearer. Press 5 to look into the socket.",
    "Press Space: the next tool comes in and the bone is cut as it goes. N and B go from step to step, End shows the cup.",
    "Drag an arrow to move the cup, or the end of its axis to turn it. The answers on the right follow: press 8 for whether it holds, 9 for the joint, 7 to come back.",
    "Press X for a section through the cup, R to turn it: wall, cavity, cup and gap in profile.",
    "Every number tells what it means when the pointer rests on it. Every change can be undone.",
];

fn help(ui: &mut Ui, height: f32) {
    ScrollArea::vertical()
        .min_scrolled_height(height)
        .show(ui, |ui| {
            for (k, step) in FIRST_STEPS.iter().enumerate() {
                ui.horizontal_top(|ui| {
                    ui.label(
                        RichText::new(format!("{}", k + 1))
                            .strong()
                            .color(theme::ACCENT),
                    );
                    ui.add(egui::Label::new(*step).wrap());
                });
            }
            ui.separator();
            ui.columns(2, |columns| {
                for (k, group) in Group::ALL.into_iter().enumerate() {
                    let ui = &mut columns[usize::from(k % 2 == 1)];
                    field::heading(ui, group.heading());
                    Grid::new(group.heading())
                        .num_columns(2)
                        .spacing([10.0, 2.0])
                        .show(ui, |ui| {
                            for bound in BINDINGS.iter().filter(|bound| bound.group == group) {
                                ui.label(RichText::new(printed(&bound.chord)).strong().small());
                                ui.label(RichText::new(bound.does).small());
                                ui.end_row();
                            }
                        });
                }
            });
            ui.label(
                RichText::new(
                    "Tab goes from field to field; in a field, type a number and press Enter.",
                )
                .small(),
            );
        });
}

#[derive(Clone, Copy, Eq, PartialEq)]
enum Purpose {
    Open,
    Save,
}

/// A name, and the folder around it.
fn choose(ui: &mut Ui, desk: &mut Desk<'_>, memory: &mut Memory, is_new: bool, purpose: Purpose) {
    let (verb, tells) = match purpose {
        Purpose::Open => (
            "open",
            "A case or a lesson (.ron), or a bone as a mesh (.stl, .ply, .obj) or a label volume (.nii, .nii.gz, .nrrd) in mm, with x toward the patient's right, y anterior and z superior. The plan at hand can be had back with undo.",
        ),
        Purpose::Save => (
            "save",
            "A case file: text that Cupwright reads back, on the bench and on the command line.",
        ),
    };
    ui.label(RichText::new(tells).small().color(theme::FAINT));
    folder(ui, desk.acts, memory, purpose);
    ui.horizontal(|ui| {
        let written = ui.add(
            TextEdit::singleline(&mut memory.name)
                .desired_width(360.0)
                .hint_text("file name"),
        );
        if is_new {
            written.request_focus();
        }
        let entered = written.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let path = memory.folder.join(&memory.name);
        let exists =
            purpose == Purpose::Save && path.is_file() && desk.plan.path.as_ref() != Some(&path);
        let words = if exists {
            "replace the file that is there"
        } else {
            verb
        };
        let clicked = ui
            .add_enabled(!memory.name.is_empty(), egui::Button::new(words))
            .clicked();
        if clicked || (entered && !memory.name.is_empty() && !exists) {
            desk.acts.push(match purpose {
                Purpose::Open => Act::Open(path),
                Purpose::Save => Act::Save(path),
            });
        }
    });
}

/// The folder, and what is in it to choose from.
fn folder(ui: &mut Ui, acts: &mut Vec<Act>, memory: &mut Memory, purpose: Purpose) {
    ui.horizontal(|ui| {
        let up = ui
            .button("up")
            .on_hover_text("To the folder around this one")
            .clicked();
        if up && let Some(parent) = memory.folder.parent() {
            memory.folder = parent.to_owned();
        }
        ui.label(memory.folder.display().to_string());
    });
    ScrollArea::vertical()
        .max_height(220.0)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            let (folders, files) = memory.listing();
            for folder in folders {
                if ui.selectable_label(false, format!("{folder}/")).clicked() {
                    memory.folder.push(folder);
                }
            }
            for file in files {
                let response = ui.selectable_label(memory.name == file, &file);
                if response.double_clicked() && purpose == Purpose::Open {
                    acts.push(Act::Open(memory.folder.join(&file)));
                } else if response.clicked() {
                    memory.name = file;
                }
            }
        });
}

/// The folders and the files in a folder that the bench can open, by name.
fn listed(folder: &Path) -> Listing {
    let (mut folders, mut files) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().display().to_string();
        if name.starts_with('.') {
            continue;
        }
        let path = entry.path();
        let is_case = path.extension().is_some_and(|extension| extension == "ron");
        if path.is_dir() {
            folders.push(name);
        } else if is_case || cupwright_io::Format::for_path(&path).is_ok() {
            files.push(name);
        }
    }
    folders.sort();
    files.sort();
    (folders, files)
}

fn lessons(ui: &mut Ui, acts: &mut Vec<Act>, memory: &mut Memory) {
    let lessons = match memory.lessons.get_or_insert_with(Lesson::built_in) {
        Ok(lessons) => lessons,
        Err(problem) => {
            ui.label(problem.to_string());
            return;
        }
    };
    ui.label("Pages to read and goals to reach; the bench checks them from its own findings. A lesson puts its own plan on the bench; undo brings yours back.");
    for (k, lesson) in lessons.iter().enumerate() {
        ui.separator();
        ui.label(RichText::new(&lesson.title).heading());
        ui.label(&lesson.for_whom);
        if ui.button("begin").clicked() {
            acts.push(Act::Learn(k));
        }
    }
}

fn bones(ui: &mut Ui, desk: &mut Desk<'_>, memory: &mut Memory) {
    let now = &desk.plan.file().bone;
    let mut side = memory.side.unwrap_or_else(|| now.side().into());
    ui.horizontal(|ui| {
        for one in [SideEntry::Right, SideEntry::Left] {
            ui.selectable_value(&mut side, one, plan::side_name(one));
        }
    });
    memory.side = Some(side);
    if memory.presets.is_empty() {
        let told = |preset: Preset| (preset.name(), preset.description().unwrap_or_default());
        memory.presets = Preset::ALL.map(told).to_vec();
    }
    ui.label(RichText::new("Synthetic pelves, built from published measurements; none is a patient's. The cup stays where it was from the native hip centre.").small());
    ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
        for (name, tells) in &memory.presets {
            ui.horizontal_top(|ui| {
                if ui.button(*name).clicked() {
                    desk.acts.push(Act::Edit(Edit::Bone(BoneEntry::Preset {
                        name: (*name).into(),
                        side,
                        overrides: std::collections::BTreeMap::new(),
                        layers: false,
                    })));
                    desk.view.window = None;
                }
                ui.add(egui::Label::new(RichText::new(tells.as_str()).small()).wrap());
            });
        }
    });
    if ui.button("a mesh file of your own").clicked() {
        desk.view.window = Some(Window::Open);
    }
}

fn leave(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.label("The plan has changes that are not saved.");
    ui.horizontal(|ui| {
        field::command(
            ui,
            "save",
            Command::Save,
            "Save the case, and stay",
            desk.acts,
        );
        if ui.button("leave without saving").clicked() {
            desk.acts.push(Act::Leave);
        }
        if ui.button("stay").clicked() {
            desk.view.window = None;
        }
    });
}
