//! Pictures drawn without a window, by whatever Vulkan driver there is; skipped where there is none.

#![expect(
    clippy::unwrap_used,
    clippy::print_stderr,
    reason = "a test reports by panicking, a skip on stderr"
)]

use std::path::Path;
use std::process::{Command, Output};

use image::{Rgb, RgbImage};

const SIZE: u32 = 480;

fn viewer(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cupwright-viewer"))
        .args(arguments)
        .output()
        .unwrap()
}

/// The picture that the program writes for these arguments; `None` where there is no driver.
fn picture(folder: &Path, arguments: &[&str]) -> Option<RgbImage> {
    let path = folder.join("picture.png");
    let size = format!("{SIZE}x{SIZE}");
    let asked = [
        &["--picture", path.to_str().unwrap(), "--size", &size],
        arguments,
    ]
    .concat();
    let done = viewer(&asked);
    let told = String::from_utf8_lossy(&done.stderr);
    if told.contains("mesa-vulkan-drivers") {
        eprintln!("skipped: no Vulkan driver here ({})", told.trim());
        return None;
    }
    assert!(done.status.success(), "{told}");
    Some(image::open(&path).unwrap().to_rgb8())
}

fn light(Rgb([r, g, b]): Rgb<u8>) -> f64 {
    0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b)
}

/// Pixels in the middle of the picture, where the socket is.
fn middle(image: &RgbImage) -> impl Iterator<Item = Rgb<u8>> + '_ {
    let (from, to) = (SIZE * 2 / 5, SIZE * 3 / 5);
    (from..to).flat_map(move |x| (from..to).map(move |y| *image.get_pixel(x, y)))
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for value in values {
        sum += value;
        count += 1.0;
    }
    sum / count
}

/// How much redder than blue the middle is: bone is, metal is not.
fn warmth(image: &RgbImage) -> f64 {
    mean(middle(image).map(|Rgb([r, _, b])| f64::from(r) - f64::from(b)))
}

#[test]
fn reaming_darkens_the_socket_and_the_cup_covers_it() {
    let folder = tempfile::tempdir().unwrap();
    let shown = |step: &str, also: &[&str]| {
        picture(
            folder.path(),
            &[&["--view", "socket", "--step", step], also].concat(),
        )
    };
    let Some(before) = shown("0", &[]) else {
        return;
    };
    let after = shown("4", &["--without-tools"]).unwrap();
    let lightness = |image: &RgbImage| mean(middle(image).map(light));
    assert!(
        lightness(&after) < lightness(&before) - 10.0,
        "{} {}",
        lightness(&before),
        lightness(&after)
    );
    let cup = shown("5", &[]).unwrap();
    assert!(
        warmth(&after) > warmth(&cup) + 15.0,
        "{} {}",
        warmth(&after),
        warmth(&cup)
    );
}

#[test]
fn the_map_has_its_legend_from_its_dark_end_to_its_light_end() {
    let folder = tempfile::tempdir().unwrap();
    let asked = [
        "--view",
        "section",
        "--section",
        "12",
        "--step",
        "4",
        "--map",
        "wall",
    ];
    let Some(with_map) = picture(folder.path(), &asked) else {
        return;
    };
    let plain = picture(folder.path(), &asked[..6]).unwrap();
    let is_near = |pixel: &Rgb<u8>, wanted: [u8; 3]| {
        pixel.0.iter().zip(wanted).all(|(a, b)| a.abs_diff(b) <= 10)
    };
    // The lower left corner holds the legend: both ends of the scale are there, and were not before.
    let corner = |image: &RgbImage, wanted: [u8; 3]| {
        let (across, down) = (0..SIZE / 5, SIZE / 2..SIZE);
        across
            .flat_map(|x| down.clone().map(move |y| (x, y)))
            .filter(|&(x, y)| is_near(image.get_pixel(x, y), wanted))
            .count()
    };
    for end in [[68, 1, 84], [253, 231, 37]] {
        assert!(
            corner(&with_map, end) > 20,
            "{end:?}: {}",
            corner(&with_map, end)
        );
        assert_eq!(corner(&plain, end), 0, "{end:?}");
    }
}

#[test]
fn each_page_of_answers_is_drawn_beside_the_same_picture() {
    let folder = tempfile::tempdir().unwrap();
    let shown = |page: &str| {
        let path = folder.path().join("page.png");
        let asked = [
            "--panels",
            "--page",
            page,
            "--size",
            "1000x640",
            "--picture",
        ];
        let done = viewer(&[&asked[..], &[path.to_str().unwrap()]].concat());
        let told = String::from_utf8_lossy(&done.stderr).into_owned();
        (!told.contains("mesa-vulkan-drivers")).then(|| image::open(&path).unwrap().to_rgb8())
    };
    let Some(socket) = shown("socket") else {
        eprintln!("skipped: no Vulkan driver here");
        return;
    };
    let joint = shown("joint").unwrap();
    let differ = |from: u32, to: u32| {
        let pixels = (from..to).flat_map(|x| (120..560).map(move |y| (x, y)));
        let pixels: Vec<_> = pixels.collect();
        let changed = pixels
            .iter()
            .filter(|&&(x, y)| socket.get_pixel(x, y) != joint.get_pixel(x, y));
        changed.count() * 100 / pixels.len()
    };
    assert!(differ(700, 990) > 10, "{} %", differ(700, 990));
    assert_eq!(differ(320, 600), 0, "the picture in the middle");
}

#[test]
fn what_cannot_be_drawn_is_told_in_one_line() {
    let told = |arguments: &[&str], words: &str| {
        let done = viewer(arguments);
        let err = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(2), "{err}");
        assert_eq!(err.trim_end().lines().count(), 1, "{err}");
        assert!(err.contains(words), "{err}");
    };
    told(
        &["missing.ron", "--picture", "a.png"],
        "missing.ron: there is no such file",
    );
    let folder = tempfile::tempdir().unwrap();
    let broken = folder.path().join("broken.ron");
    std::fs::write(&broken, "(version: 9)").unwrap();
    told(
        &[broken.to_str().unwrap(), "--picture", "a.png"],
        "broken.ron",
    );
}

#[test]
fn without_a_display_the_program_says_so_and_names_the_packages() {
    let mut asked = Command::new(env!("CARGO_BIN_EXE_cupwright-viewer"));
    let done = asked
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(
        told.contains("no display") && told.contains("apt install xvfb"),
        "{told}"
    );
    assert!(
        !told.contains("panicked") && !told.contains("backtrace"),
        "{told}"
    );
}

#[test]
fn a_display_that_does_not_answer_is_told_without_a_word_of_the_program_s_insides() {
    let mut asked = Command::new(env!("CARGO_BIN_EXE_cupwright-viewer"));
    let done = asked
        .env_remove("WAYLAND_DISPLAY")
        .env("DISPLAY", ":4711")
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    let is_known = told.contains("check DISPLAY") || told.contains("mesa-vulkan-drivers");
    assert!(is_known && !told.contains(".rs:"), "{told}");
}

#[test]
fn without_a_driver_the_program_says_so_and_names_the_package() {
    let mut asked = Command::new(env!("CARGO_BIN_EXE_cupwright-viewer"));
    // A loader that finds no driver description finds no driver.
    let done = asked
        .args(["--picture", "never.png"])
        .env("VK_DRIVER_FILES", "/nonexistent.json")
        .env("VK_ICD_FILENAMES", "/nonexistent.json")
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(
        told.contains("no driver") && told.contains("apt install mesa-vulkan-drivers"),
        "{told}"
    );
}
