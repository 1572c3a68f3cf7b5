//! What a user can get wrong, each with the message he reads and the exit code, in process.
//!
//! Every test runs in a folder with blanks and letters beyond ASCII in its name. What is refused is
//! refused in one line on stderr with nothing on stdout; what is odd but can be computed is computed
//! with a warning.

use cupwright_geometry::{TriMesh, samples};
use cupwright_io::{Format, write_to};
use cupwright_tests::bones;
use cupwright_tests::desk::{Desk, Ran};
use nalgebra::Isometry3;

/// The place and direction of the socket of `bones::socketed`.
const SOCKET: &str = "--centre 50,14,-28 --axis 0.85,0.24,-0.47";

/// Measures a cup in the file `name`.
fn measured(desk: &Desk, name: &str) -> Ran {
    desk.run(&format!("measure --bone @{name} {SOCKET} --cup 54"))
}

/// Measures the socketed bone with other arguments.
fn measured_with(arguments: &str) -> Ran {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.run(&format!("measure --bone @bone.ply {arguments}"))
}

/// A case on the file `bone.ply`.
const CASE: &str = r#"(
    version: 1,
    bone: File(
        path: "bone.ply",
        side: Right,
        axes: Pelvic,
        hip_centre_mm: (50, 14, -28),
        socket_diameter_mm: 52,
    ),
    orientation: Radiographic,
    reamers: [(diameter_mm: 51), (diameter_mm: 53)],
    cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 15),
)"#;

/// Runs [`CASE`] with one passage changed.
fn case_with(from: &str, to: &str) -> Ran {
    assert!(CASE.contains(from), "nothing to replace");
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE.replacen(from, to, 1));
    desk.run("run @case.ron")
}

fn file_of(mesh: &TriMesh, format: Format) -> Vec<u8> {
    let mut file = Vec::new();
    assert!(write_to(&mut file, mesh, format).is_ok());
    file
}

fn cube() -> TriMesh {
    samples::cuboid([100.0; 3])
}

fn without_its_first_triangle(mesh: &TriMesh) -> TriMesh {
    let open = TriMesh::new(mesh.vertices().to_vec(), mesh.triangles()[1..].to_vec());
    open.unwrap_or_else(|problem| panic!("a cut mesh is a mesh: {problem}"))
}

/// Reads the file in every way a user can ask for it; each must be refused and name it.
#[track_caller]
fn unreadable(name: &str, content: &[u8], told: &[&str]) {
    let desk = Desk::new();
    desk.write(name, content);
    let told: Vec<_> = [name].iter().chain(told).copied().collect();
    measured(&desk, name).is_refused(&told);
    desk.run(&format!("inspect @{name} --json"))
        .is_refused(&told);
    desk.write("case.ron", CASE.replace("bone.ply", name));
    let told: Vec<_> = ["case.ron: "].iter().chain(&told).copied().collect();
    desk.run("run @case.ron").is_refused(&told);
}

/// Works on a mesh that can be read; both ways must refuse it and name the file.
#[track_caller]
fn unusable(mesh: &TriMesh, told: &[&str]) {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", mesh);
    desk.write("case.ron", CASE);
    let told: Vec<_> = ["bone.ply: "].iter().chain(told).copied().collect();
    measured(&desk, "bone.ply").is_refused(&told);
    desk.run("run @case.ron").is_refused(&told);
}

// Files

#[test]
fn a_missing_file_is_named_with_its_folder() {
    let desk = Desk::new();
    let told = "there is no such file; check the name and the folder";
    let path = desk.path("none.stl").display().to_string();
    measured(&desk, "none.stl").is_refused(&[&path, told]);
    desk.run("inspect @none.stl").is_refused(&[&path, told]);
    desk.run("run @none.ron").is_refused(&["none.ron: ", told]);
    desk.write("case.ron", CASE);
    desk.run("run @case.ron")
        .is_refused(&["case.ron: ", "bone.ply: ", told]);
    let case = CASE.replace("orientation", "instruments: \"set.ron\", orientation");
    desk.write("case.ron", case);
    desk.run("run @case.ron")
        .is_refused(&["case.ron: ", "set.ron: ", told]);
}

#[test]
fn a_folder_in_place_of_a_file_is_told() {
    let desk = Desk::new();
    let told = "this is a folder; name a file in it";
    measured(&desk, "").is_refused(&[told]);
    desk.run("inspect @").is_refused(&[told]);
    desk.run("run @").is_refused(&[told]);
}

#[test]
fn another_format_is_told_by_what_it_is() {
    let export = "export the mesh in one of these";
    unreadable("bone.stl", b"\x89PNG\r\n\x1a\n", &["a PNG picture", export]);
    unreadable(
        "bone.stl",
        b"glTF\x02\0\0\0",
        &["a binary glTF scene", export],
    );
    unreadable("bone.obj", b"PK\x03\x04", &["a zip archive", export]);
    unreadable("bone.stl", b"a letter to a friend", &["text", export]);
    unreadable("bone.ply", b"", &["the file is empty"]);
    let desk = Desk::new();
    desk.write("bone.stl", file_of(&cube(), Format::StlBinary));
    desk.run("run @bone.stl")
        .is_refused(&["bone.stl: ", "this is no text", "RON"]);
}

#[test]
fn a_truncated_stl_is_told_with_both_counts() {
    let whole = file_of(&cube(), Format::StlBinary);
    let told = [
        "STL: the header announces 12 triangles, which take 684 bytes, but the file holds 400 bytes (6 whole triangles)",
        "it was cut short or is no STL; copy or export it again",
    ];
    unreadable("bone.stl", &whole[..400], &told);
    let whole = file_of(&cube(), Format::StlAscii);
    let told = [
        "the file ends after line",
        "it was cut short; copy or export it again",
    ];
    let half = whole.len() / 2;
    let end = whole[..half]
        .iter()
        .rposition(|b| *b == b'\n')
        .unwrap_or(half);
    unreadable("bone.stl", &whole[..=end], &told);
}

#[test]
fn a_binary_stl_that_calls_itself_solid_is_read_and_a_damaged_one_told() {
    let mut file = file_of(&bones::socketed(), Format::StlBinary);
    file[..12].copy_from_slice(b"solid femur ");
    let desk = Desk::new();
    desk.write("bone.stl", &file);
    measured(&desk, "bone.stl").is_done();
    unreadable(
        "bone.stl",
        &file[..5000],
        &["the header announces", "cut short"],
    );
    let mut text = file_of(&cube(), Format::StlAscii);
    text[200] = 0;
    unreadable(
        "bone.stl",
        &text,
        &["STL: ", "it was cut short or is no STL"],
    );
}

#[test]
fn coordinates_that_are_no_numbers_are_told_with_their_place() {
    let repair = "repair the mesh where it was made and export it again";
    for (value, name) in [(f32::NAN, "NaN"), (f32::INFINITY, "inf")] {
        let mut file = file_of(&cube(), Format::StlBinary);
        let at = 84 + 5 * 50 + 12 + 12 + 4;
        file[at..at + 4].copy_from_slice(&value.to_le_bytes());
        let told = format!("byte 362: triangle 5 (counting from 0), second corner: y is {name}");
        unreadable("bone.stl", &file, &[&told, repair]);
    }
    let obj = "v 0 0 0\nv 1 0 nan\nv 0 1 0\nf 1 2 3\n";
    unreadable(
        "bone.obj",
        obj.as_bytes(),
        &["line 2: vertex 2", "NaN", repair],
    );
    let ply = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n\
               element face 1\nproperty list uchar int vertex_indices\nend_header\n\
               0 0 0\n1 0 -inf\n0 1 0\n3 0 1 2\n";
    unreadable("bone.ply", ply.as_bytes(), &["line 11", "-inf", repair]);
    unreadable(
        "bone.obj",
        b"v 0 0 1,5\n",
        &["line 1", "'1,5' is no number"],
    );
}

#[test]
fn no_triangles_are_told() {
    let told = "the file holds no triangles; export the surface again";
    unreadable("bone.stl", &[0; 84], &[told]);
    unreadable("bone.stl", b"solid\nendsolid\n", &[told]);
    let told = "the file holds 3 vertices but no faces; export the surface, not points or lines";
    unreadable("bone.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", &[told]);
}

// Meshes

#[test]
fn an_open_mesh_is_told_with_its_hole() {
    let open = without_its_first_triangle(&bones::socketed());
    unusable(
        &open,
        &[
            "the surface is open: 3 edges have no neighbour, the first at (",
            "close the holes first",
        ],
    );
}

#[test]
fn an_inside_out_mesh_is_told() {
    let told = ["the surface is inside out", "turn its triangles round"];
    unusable(&bones::socketed().reversed(), &told);
}

#[test]
fn triangles_that_disagree_are_told() {
    let mut triangles = cube().triangles().to_vec();
    triangles[3].reverse();
    let mesh = TriMesh::new(cube().vertices().to_vec(), triangles);
    let told = [
        "face opposite ways along 3 edges",
        "make the orientation consistent first",
    ];
    unusable(&mesh.unwrap_or_default(), &told);
}

#[test]
fn two_bones_in_one_file_are_told() {
    let second = cube().moved(&Isometry3::translation(200.0, 0.0, 0.0));
    let told = [
        "the mesh holds 2 separate bones (of 4200, 12 triangles)",
        "keep the one to work on in a file of its own",
    ];
    unusable(&bones::socketed().joined(&second), &told);
}

#[test]
fn another_unit_is_told_with_the_way_out() {
    for (unit, flag, factor) in [
        ("metres", "m", 1000.0),
        ("inches", "in", 25.4),
        ("centimetres", "cm", 10.0),
    ] {
        // Twice as large as the socketed ball, so that it is as wide as a hemipelvis.
        let bone = bones::socketed().scaled(2.0);
        let desk = Desk::new();
        desk.write_mesh("bone.ply", &bone.scaled(1.0 / factor));
        let line = "measure --bone @bone.ply --centre 100,28,-56 --axis 0.85,0.24,-0.47 --cup 106";
        let told =
            format!("it looks like {unit}, not mm; scale it by {factor}, or give --unit {flag}");
        desk.run(line)
            .is_refused(&["bone.ply: ", &told, "--unit mm takes the file as it is"]);
        let inspected = desk.run("inspect @bone.ply");
        let told = format!(
            "a hemipelvis of this size would be in {unit}; scale it by {factor}, or give --unit {flag}"
        );
        assert!(inspected.is_done().out.contains(&told), "{}", inspected.out);

        let scaled = desk.run(&format!("{line} --unit {flag}"));
        let told = format!("taken as {unit} and scaled by {factor} to mm");
        assert!(scaled.is_done().err.contains(&told), "{}", scaled.err);
        desk.write_mesh("mm.ply", &bone);
        let in_mm = desk.run(&line.replace("bone.ply", "mm.ply"));
        assert_eq!(scaled.out, in_mm.out);
        assert!(
            desk.run(&format!("{line} --unit mm"))
                .is_done()
                .err
                .is_empty()
        );
    }
    unusable(
        &bones::socketed().scaled(0.002),
        &["it looks like metres, not mm; scale it by 1000"],
    );
}

#[test]
fn a_bone_or_a_place_a_kilometre_off_is_told() {
    let far = cube().moved(&Isometry3::translation(1e9, 0.0, 0.0));
    let told = [
        "the bone reaches 1.00000005e9 mm from the origin of its file, more than a kilometre",
        "check the unit, or move it nearer",
    ];
    unusable(&far, &told);
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &far);
    desk.run("inspect @bone.ply").is_refused(&told);
    measured_with("--centre 1e300,0,0 --axis 0,0,1 --cup 50")
        .is_refused(&["--centre", "between -1000000 and 1000000 mm"]);
    case_with("(50, 14, -28)", "(50, 14, 1e300)").is_refused(&["bone.hip_centre_mm"]);
}

// Arguments

#[test]
fn an_axis_without_direction_is_told_and_one_of_any_length_is_not() {
    let told = "the axis 0,0,0 has no direction; give the way out of the socket";
    let centre = "--centre 50,14,-28";
    measured_with(&format!("{centre} --axis 0,0,0 --cup 50")).is_refused(&["--axis", told]);
    measured_with(&format!("{centre} --axis 0,0,1 --cup 50 --cup-axis 0,0,0"))
        .is_refused(&["--cup-axis", told]);
    measured_with(&format!("{centre} --axis 0,0,1 --reamer 50@1,2,3/0,0,0"))
        .is_refused(&["--reamer", told]);
    let unit = measured_with(&format!("{centre} --axis 0,0.6,-0.8 --cup 54 --reamer 53"));
    for axis in ["0,3e200,-4e200", "0,3e-200,-4e-200", "0,0.0006,-0.0008"] {
        let other = measured_with(&format!("{centre} --axis {axis} --cup 54 --reamer 53"));
        assert_eq!(other.is_done().out, unit.is_done().out, "{axis}");
    }
}

#[test]
fn negative_and_huge_diameters_are_told() {
    for bad in ["-50", "0", "201", "1e9", "NaN", "inf", "fifty"] {
        measured_with(&format!("{SOCKET} --cup {bad}")).is_refused(&["--cup", bad]);
        measured_with(&format!("{SOCKET} --reamer 43,{bad}")).is_refused(&["--reamer", bad]);
        let own = format!("--reamer {bad}@1,2,3/0,0,1");
        measured_with(&format!("{SOCKET} {own}")).is_refused(&["--reamer", bad]);
    }
    let allowed = "must be more than 0 and at most 200 mm";
    measured_with(&format!("{SOCKET} --cup -50")).is_refused(&[allowed]);
    for bad in ["-51", "0", "510", "NaN"] {
        let told = format!("reamer 1: diameter_mm is {bad}; it {allowed}");
        case_with("diameter_mm: 51", &format!("diameter_mm: {bad}"))
            .is_refused(&["case.ron", &told]);
        let told = format!("cup: diameter_mm is {bad}; it {allowed}");
        case_with("diameter_mm: 54", &format!("diameter_mm: {bad}"))
            .is_refused(&["case.ron", &told]);
        let told = format!("bone.socket_diameter_mm is {bad}; it {allowed}");
        case_with("_diameter_mm: 52", &format!("_diameter_mm: {bad}")).is_refused(&[&told]);
    }
}

#[test]
fn other_numbers_out_of_range_are_told() {
    measured_with(&format!("{SOCKET} --reamer 50 --column -1"))
        .is_refused(&["--column", "more than 0"]);
    measured_with("--centre 1,2 --axis 0,0,1 --cup 50").is_refused(&[
        "--centre",
        "three numbers are needed, as in 1.5,-20,3; '1,2' has 2",
    ]);
    measured_with(&format!("{SOCKET} --reamer 50@1,2,3")).is_refused(&["lacks its axis"]);
    measured_with(SOCKET).is_refused(&["nothing to measure: give --reamer or --cup"]);
    measured_with(&format!(
        "{SOCKET} --reamer 50 --reamer 50@150,14,-28/1,0,0"
    ))
    .is_refused(&[
        "reamer 2: the reamers share no point",
        "work them as separate plans",
    ]);
    case_with("inclination_deg: 45", "inclination_deg: 400").is_refused(&["cup: ", "400°"]);
    case_with("version: 1,", "version: 1, posterior_tilt_deg: 200,").is_refused(&[
        "case.ron",
        "posterior_tilt_deg",
        "200°",
    ]);
    case_with("version: 1,", "version: 1, limits: (min_coverage: 70),")
        .is_refused(&["limits.min_coverage is 70; it must be a share between 0 and 1"]);
    let desk = Desk::new();
    for bad in ["70", "-0.1", "NaN"] {
        desk.run(&format!("run @case.ron --min-coverage {bad}"))
            .is_refused(&["--min-coverage", bad]);
    }
}

#[test]
fn a_slip_in_the_arguments_is_one_line_that_says_where_to_read_more() {
    let desk = Desk::new();
    desk.run("measur").is_refused(&[
        "there is no command measur; there are: run, measure, inspect, mend, pelvis",
    ]);
    desk.run("measure").is_refused(&[
        "--bone <FILE> --centre <X,Y,Z> --axis <X,Y,Z>",
        "see cupwright measure --help",
    ]);
    desk.run("inspect --jsn @bone.stl").is_refused(&[
        "'--jsn'",
        "'--json'",
        "see cupwright inspect --help",
    ]);
    desk.run("--jsn")
        .is_refused(&["'--jsn'", "see cupwright --help"]);
    desk.run("pelvis average-male")
        .is_refused(&["--out <FILE>"]);
}

#[test]
fn meshes_without_a_folder_or_in_no_known_format_are_refused_before_any_work() {
    let desk = Desk::new();
    desk.run("run @case.ron --meshes stl")
        .is_refused(&["were not provided: --out <DIR>", "see cupwright run --help"]);
    desk.run("run @case.ron --out @out --meshes step")
        .is_refused(&["'step'", "stl, ply"]);
    assert!(desk.names().is_empty());
}

#[test]
fn one_mesh_that_cannot_be_written_leaves_all_as_it_was() {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE);
    let in_the_way = desk.path("out/cup-54mm.stl");
    assert!(std::fs::create_dir_all(&in_the_way).is_ok());
    let ran = desk.run("run @case.ron --out @out --meshes stl");
    assert_eq!(ran.exit.code(), 2);
    assert!(
        ran.err.contains("cup-54mm.stl: this is a folder"),
        "{}",
        ran.err
    );
    let left = std::fs::read_dir(desk.path("out")).map(Iterator::count);
    assert!(matches!(left, Ok(1)), "{left:?}");
}

// Cases

#[test]
fn a_field_that_a_case_does_not_have_is_told_with_its_line() {
    case_with("    orientation", "    orientatoin").is_refused(&[
        "case.ron: line 10, column 5: there is no field orientatoin here; there are: ",
        "orientation",
    ]);
    case_with("side: Right", "side: Up")
        .is_refused(&["line 5", "there is no Up here; write one of: Right, Left"]);
    case_with("    orientation: Radiographic,\n", "").is_refused(&[
        "line 12",
        "this part ends without its field orientation; add it",
    ]);
    case_with("diameter_mm: 51", "diameter_mm: wide")
        .is_refused(&["line 11, column 28: a number should stand here"]);
    case_with("version: 1", "version: 9")
        .is_refused(&["version is 9; this program reads version 1"]);
    case_with("[(diameter_mm: 51), (diameter_mm: 53)]", "[]")
        .is_refused(&["reamers is empty; give at least one"]);
    case_with("version: 1,", "version: 1, reference: Isb,")
        .is_refused(&["give axes: Landmarks(...)"]);
}

#[test]
fn parts_that_make_no_joint_are_told_with_what_to_change() {
    let with = |part: &str| {
        case_with(
            "    orientation: ",
            &format!("    {part},\n    orientation: "),
        )
    };
    for (part, told) in [
        (
            "head: (diameter_mm: 36), liner: (bore_mm: 32)",
            "a head of 36 mm does not go into a bore of 32 mm",
        ),
        (
            "head: (diameter_mm: 36), liner: (shell_mm: 10)",
            "leaves a liner wall of -1.10 mm",
        ),
        (
            "target: (leg_length_mm: 45)",
            "the stem cannot reach: its balls change the leg by",
        ),
        ("stem: (neck_diameter_mm: 40)", "leaves no room to move"),
    ] {
        with(part).is_refused(&["case.ron: no joint can be made: ", told]);
    }
    for (part, told) in [
        ("head: (diameter_mm: 0)", "head.diameter_mm is 0"),
        ("press_fit: (friction: -1)", "friction is -1"),
        ("screws: (cone_deg: 100)", "screws.cone_deg is 100"),
        ("fallback: (larger_mm: NaN)", "fallback.larger_mm is NaN"),
    ] {
        with(part).is_refused(&["case.ron: ", told]);
    }
}

#[test]
fn what_a_case_leaves_to_defaults_is_no_reason_to_refuse_it() {
    // The generic ball leaves no wall in a cup of 40 mm, and the case asks for no ball.
    let ran = case_with(
        "reamers: [(diameter_mm: 51), (diameter_mm: 53)],\n    cup: (diameter_mm: 54",
        "reamers: [(diameter_mm: 39)],\n    cup: (diameter_mm: 40",
    );
    ran.is_done();
    assert!(ran.out.contains("NO JOINT"), "{}", ran.out);
}

#[test]
fn a_preset_that_does_not_exist_is_told_with_those_that_do() {
    let desk = Desk::new();
    let (start, end) = CASE.split_at(CASE.find("File(").unwrap_or(0));
    let end = &end[end.find("),\n    orientation").unwrap_or(0)..];
    let told = [
        "there is no preset huge; there are: average-male, average-female",
        "worn",
    ];
    desk.write(
        "case.ron",
        format!("{start}Preset(name: \"huge\", side: Left{end}"),
    );
    desk.run("run @case.ron")
        .is_refused(&["case.ron: ", told[0], told[1]]);
    desk.run("pelvis huge --out @hip.stl").is_refused(&told);
    let name = "Preset(name: \"large\", side: Left, overrides: {\"girth\": 3}";
    desk.write("case.ron", format!("{start}{name}{end}"));
    let told = "the pelvis has no parameter girth; it has: asis_width_mm";
    desk.run("run @case.ron").is_refused(&[told]);
    desk.run("pelvis large --set girth=3 --out @hip.stl")
        .is_refused(&["--set girth=3", told]);
    desk.run("pelvis large --set socket_diameter_mm=5 --out @hip.stl")
        .is_refused(&["socket_diameter_mm = 5 is outside its range of 38 to 64"]);
    desk.run("pelvis large --set socket_diameter_mm --out @hip.stl")
        .is_refused(&["'socket_diameter_mm' is not NAME=VALUE"]);
    assert_eq!(desk.names(), ["case.ron"]);
}

// Odd, but computed

#[test]
fn a_reamer_in_air_and_a_small_cup_are_computed_with_a_warning() {
    let air = "warning: reamer 1 (30 mm) touches no bone\n";
    let small = "warning: the cup (50 mm) is smaller than the last reamer (53.5 mm)\n";
    let measured = measured_with(&format!("{SOCKET} --reamer 30,53.5 --cup 50 --json"));
    let expected = format!("cupwright: {air}cupwright: {small}");
    assert_eq!(measured.is_done().err, expected);
    assert!(measured.out.contains("\"removed_mm3\": 0.0,"));
    let reamers = "reamers: [(diameter_mm: 30), (diameter_mm: 53.5)],\n    cup: (diameter_mm: 50";
    let ran = case_with(
        "reamers: [(diameter_mm: 51), (diameter_mm: 53)],\n    cup: (diameter_mm: 54",
        reamers,
    );
    assert_eq!(ran.is_done().err, expected);
    let well = measured_with(&format!("{SOCKET} --reamer 53 --cup 54 --json"));
    assert_eq!(well.is_done().err, "");
}

#[test]
fn a_misnamed_file_is_read_by_its_content_and_told() {
    let desk = Desk::new();
    desk.write("bone.obj", file_of(&bones::socketed(), Format::StlAscii));
    let measured = measured(&desk, "bone.obj");
    let told = "note: ";
    assert!(measured.is_done().err.contains(told));
    assert!(
        measured
            .err
            .contains("the name ends in .obj, but the file holds ASCII STL")
    );
}

// Outputs

#[test]
fn a_place_that_cannot_be_written_to_is_told() {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE);
    desk.write("file", "mine");
    let told = |ran: &Ran, told: &str| {
        assert_eq!(ran.exit.code(), 2, "{}", ran.err);
        assert!(ran.err.contains(told), "{}", ran.err);
        assert!(
            ran.out.contains("CUP 54.0 mm"),
            "the findings are printed all the same"
        );
    };
    told(
        &desk.run("run @case.ron --out @file"),
        "file: this is no folder",
    );
    told(
        &desk.run("run @case.ron --out @file/deeper"),
        "deeper: this folder cannot be made",
    );
    #[cfg(target_os = "linux")]
    told(
        &desk.run("run @case.ron --out /proc"),
        "/proc/findings.json: cannot be written",
    );
    assert_eq!(desk.text("file"), "mine");
    desk.run("pelvis small --out @none/hip.stl").is_refused(&[
        "hip.",
        "there is no folder",
        "create it first",
    ]);
    desk.run("pelvis small --out @hip.doc").is_refused(&[
        "hip.doc: cannot tell the format from the name; end it in .stl, .obj or .ply",
    ]);
}

#[test]
fn a_file_that_cannot_be_written_leaves_those_before_it_as_they_were() {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE);
    desk.run("run @case.ron --out @out").is_done();
    let files = [
        "findings.json",
        "steps.csv",
        "rim.csv",
        "reaming.svg",
        "balls.csv",
        "motion.csv",
        "rim-clock.svg",
        "sheet.html",
    ];
    let texts = || files.map(|name| desk.text(&format!("out/{name}")));
    let before = texts();
    // The last file that is written finds a folder in its way.
    let report = desk.path("out/report.txt");
    let in_the_way = std::fs::remove_file(&report).and_then(|()| std::fs::create_dir(&report));
    assert!(in_the_way.is_ok());
    desk.write("case.ron", CASE.replace("54", "56"));
    let ran = desk.run("run @case.ron --out @out");
    assert_eq!(ran.exit.code(), 2);
    assert!(
        ran.err.contains("report.txt: this is a folder"),
        "{}",
        ran.err
    );
    assert_eq!(texts(), before);
    let entries = std::fs::read_dir(desk.path("out")).map_or(0, Iterator::count);
    assert_eq!(entries, 9, "nothing half written is left");

    desk.write("hip.stl", "old");
    assert!(std::fs::create_dir(desk.path("hip.landmarks.ron")).is_ok());
    desk.run("pelvis small --out @hip.stl")
        .is_refused(&["hip.landmarks.ron: this is a folder"]);
    assert_eq!(desk.text("hip.stl"), "old");
}

#[test]
fn a_picture_that_is_none_is_refused_before_anything_is_done() {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE);
    desk.write("view.png", "not a picture");
    let run = |picture: &str| desk.run(&format!("run @case.ron --out @out --picture {picture}"));
    run("@missing.png").is_refused(&["missing.png: this picture cannot be read"]);
    run("@view.png").is_refused(&["view.png: this is no PNG picture"]);
    assert!(!desk.path("out").exists());
    desk.run("run @case.ron --picture @view.png")
        .is_refused(&["--out"]);
}
