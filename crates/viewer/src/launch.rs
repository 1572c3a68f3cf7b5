//! From the arguments to a running bench.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};

use bevy::app::{App, AppExit, PluginGroup, Startup, Update};
use bevy::log::{Level, LogPlugin};
use bevy::prelude::{Commands, DefaultPlugins, MessageReader, MessageWriter, Res, ResMut, default};
use bevy::render::RenderPlugin;
use bevy::render::settings::{RenderCreation, WgpuSettings};
use bevy::window::{
    ExitCondition, PresentMode, Window, WindowCloseRequested, WindowPlugin, WindowResolution,
};
use bevy::winit::WinitPlugin;
use bevy_egui::{EguiGlobalSettings, EguiPlugin};
use cupwright_procedure::CaseFile;
use cupwright_procedure::case::NoCase;
use thiserror::Error;

use crate::arguments::Arguments;
use crate::desk::{DeskPlugin, Plan, View, view};
use crate::offscreen;
use crate::panels::PanelsPlugin;
use crate::scene::{self, ScenePlugin};

/// What a Debian system needs to draw without a graphics card.
const DRIVER: &str =
    "on Debian and Ubuntu `apt install mesa-vulkan-drivers` brings one that needs no graphics card";

/// What draws: Vulkan, or what a system has in its place.
const BACKENDS: wgpu::Backends = wgpu::Backends::PRIMARY;

/// Why the bench could not be opened, or a picture not be made.
#[derive(Debug, Error)]
pub(crate) enum Failed {
    #[error(transparent)]
    NoCase(#[from] NoCase),
    #[error("{0}")]
    BadCase(String),
    #[error("no driver for drawing (Vulkan) was found; {DRIVER}")]
    NoDriver,
    #[error(
        "there is no display to open a window on (neither DISPLAY nor WAYLAND_DISPLAY is set); run it on a desktop, \
         under `xvfb-run` (apt install xvfb xauth), or write a picture with --picture FILE.png"
    )]
    NoDisplay,
    #[error(
        "no window could be opened: the display does not answer, or its libraries are missing (apt install \
         libx11-6 libxcursor1 libxi6 libxkbcommon-x11-0); check DISPLAY, or write a picture with --picture FILE.png"
    )]
    NoWindow,
    #[error("the bench broke off by a fault of its own: {0}; please report it with the case")]
    Fault(String),
    #[error(transparent)]
    Offscreen(#[from] offscreen::Failed),
}

/// Does what was asked.
pub(crate) fn launch(asked: Arguments) -> Result<(), Failed> {
    let plan = plan(&asked)?;
    let view = looked_at(&asked, &plan);
    if asked.picture.is_none() && asked.frame_times.is_none() && !has_display() {
        return Err(Failed::NoDisplay);
    }
    if !has_driver() {
        return Err(Failed::NoDriver);
    }
    leave_room_for_frames();
    let fault = quiet_faults();
    let begun = AssertUnwindSafe(|| match (&asked.picture, &asked.frame_times) {
        (Some(path), _) => Ok(offscreen::picture(
            bench(plan, view, None),
            path,
            asked.size,
        )?),
        (_, Some(path)) => {
            let app = bench(plan, view, None);
            Ok(offscreen::frame_times(
                app,
                path,
                asked.size,
                asked.triangles,
            )?)
        }
        (None, None) => {
            let mut app = bench(plan, view, Some(asked.size));
            app.add_systems(Startup, window_camera)
                .add_systems(Update, close);
            app.run();
            Ok(())
        }
    });
    catch_unwind(begun).unwrap_or_else(|_| {
        let told = fault.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let is_window =
            told.contains("event loop") || told.contains("display") || told.contains("X11");
        Err(if is_window {
            Failed::NoWindow
        } else {
            Failed::Fault(told)
        })
    })
}

/// The plan of the case that was asked for.
fn plan(asked: &Arguments) -> Result<Plan, Failed> {
    let Some(path) = &asked.case else {
        let text = include_str!("../../../assets/cases/demonstration.ron");
        let file = CaseFile::parse(text).map_err(|problem| Failed::BadCase(problem.to_string()))?;
        return Plan::new(file, None).map_err(|problem| Failed::BadCase(problem.to_string()));
    };
    let file = CaseFile::read(path)?;
    Plan::new(file, Some(path.clone()))
        .map_err(|problem| Failed::BadCase(format!("{}: {problem}", path.display())))
}

/// What the bench shows first.
fn looked_at(asked: &Arguments, plan: &Plan) -> View {
    let is_window = asked.picture.is_none() && asked.frame_times.is_none();
    let is_bench = is_window || asked.panels || asked.frame_times.is_some();
    let mut view = View {
        from: asked.view.into(),
        map: asked.map.into(),
        page: asked.page.into(),
        projector: asked.large,
        tools: !asked.without_tools,
        is_bench,
        handles: is_bench,
        window: (is_window && asked.case.is_none()).then_some(view::Window::Help),
        ..View::default()
    };
    view.section.on = asked.section.is_some() || view.from == view::From::Section;
    view.section.hour = asked.section.unwrap_or_default();
    view.go_to(asked.step.unwrap_or(usize::MAX), plan.reamers());
    view
}

fn has_display() -> bool {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || is_set("DISPLAY") || is_set("WAYLAND_DISPLAY")
}

/// Findings and pictures are worked out on a quarter of the cores, so that frames find theirs free.
fn leave_room_for_frames() {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let pool = rayon::ThreadPoolBuilder::new().num_threads((cores / 4).max(1));
    // Where there is a pool already, that one serves.
    let _ = pool.build_global();
}

fn has_driver() -> bool {
    let mut wanted = wgpu::InstanceDescriptor::new_without_display_handle();
    wanted.backends = BACKENDS;
    let instance = wgpu::Instance::new(wanted);
    let adapters = instance.enumerate_adapters(BACKENDS);
    !bevy::tasks::block_on(adapters).is_empty()
}

/// What a fault says goes here and not onto the user's screen as a backtrace.
fn quiet_faults() -> Arc<Mutex<String>> {
    let told = Arc::new(Mutex::new(String::new()));
    let kept = Arc::clone(&told);
    std::panic::set_hook(Box::new(move |fault| {
        let text = fault.payload_as_str().unwrap_or("no reason given");
        let place = fault
            .location()
            .map(|at| format!(" ({}:{})", at.file(), at.line()));
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        // The first fault is the cause of the others.
        if kept.is_empty() {
            *kept = format!("{text}{}", place.unwrap_or_default());
        }
    }));
    told
}

/// The bench, with a window of this size or without one.
fn bench(plan: Plan, view: View, window: Option<crate::arguments::Size>) -> App {
    let mut app = App::new();
    let log = LogPlugin {
        level: Level::ERROR,
        filter: "wgpu=off,naga=off,bevy_render::view::window=off".into(),
        ..default()
    };
    let windows = WindowPlugin {
        primary_window: window.map(|size| Window {
            title: "Cupwright".into(),
            resolution: WindowResolution::new(size.width, size.height),
            present_mode: PresentMode::AutoVsync,
            ..default()
        }),
        exit_condition: ExitCondition::DontExit,
        close_when_requested: false,
        ..default()
    };
    let render = RenderPlugin {
        render_creation: RenderCreation::Automatic(Box::new(WgpuSettings {
            backends: Some(BACKENDS),
            ..default()
        })),
        // Without a window nobody waits for a first frame, and every frame must be whole.
        synchronous_pipeline_compilation: window.is_none(),
        ..default()
    };
    let defaults = DefaultPlugins.set(log).set(windows).set(render);
    if window.is_some() {
        app.add_plugins(defaults);
    } else {
        app.add_plugins(defaults.disable::<WinitPlugin>());
    }
    app.add_plugins(EguiPlugin::default())
        .insert_resource(EguiGlobalSettings {
            auto_create_primary_context: false,
            ..default()
        })
        .insert_resource(plan)
        .insert_resource(view)
        .add_plugins((DeskPlugin, ScenePlugin, PanelsPlugin));
    app
}

fn window_camera(mut commands: Commands) {
    commands.spawn(scene::camera());
}

/// Leaves when the window is closed; asks first where something is not saved.
fn close(
    mut wanted: MessageReader<WindowCloseRequested>,
    plan: Res<Plan>,
    mut view: ResMut<View>,
    mut exit: MessageWriter<AppExit>,
) {
    if wanted.read().count() == 0 {
        return;
    }
    if plan.is_changed() && view.window != Some(view::Window::Leave) {
        view.window = Some(view::Window::Leave);
    } else {
        exit.write(AppExit::Success);
    }
}
