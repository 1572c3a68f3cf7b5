//! What any bytes at all must not do to a reader or a measure, for the fuzz targets of `tests/fuzz` and for the
//! test that goes through their corpus.
//!
//! Each function takes bytes that mean nobody well and panics where a promise is broken: a mesh that is no mesh, a
//! case that is not read back as it was written, a measure outside its bounds. Crashes, hangs and memory are the
//! fuzzer's own business.

use arbitrary::{Arbitrary, Unstructured};
use cupwright_geometry::mend::Mending;
use cupwright_geometry::{Bullet, Hemisphere, Solid, TriMesh, rim, samples, solid, union, within};
use cupwright_io::{Loaded, ReadError, read_from, read_label_from};
use cupwright_procedure::CaseFile;
use cupwright_procedure::bone::{accept_as_it_is, within_reach};
use cupwright_procedure::case::{FARTHEST, LARGEST_DIAMETER};
use cupwright_procedure::instruments::Instruments;
use cupwright_procedure::marks::Marks;
use cupwright_procedure::removal::removals;
use nalgebra::{Matrix3, Point3, Vector3};

/// A target: its name, which is that of its corpus, and what it does with bytes.
pub type Target = (&'static str, fn(&[u8]));

/// All of them.
pub const TARGETS: [Target; 11] = [
    ("stl", stl),
    ("obj", obj),
    ("ply", ply),
    ("nifti", nifti),
    ("nrrd", nrrd),
    ("dicom", dicom),
    ("case", case),
    ("instruments", instruments),
    ("landmarks", landmarks),
    ("measure", measure),
    ("mend", mend),
];

/// Bytes in a file that is called STL.
pub fn stl(bytes: &[u8]) {
    mesh_file(bytes, "stl");
}

/// Bytes in a file that is called OBJ.
pub fn obj(bytes: &[u8]) {
    mesh_file(bytes, "obj");
}

/// Bytes in a file that is called PLY.
pub fn ply(bytes: &[u8]) {
    mesh_file(bytes, "ply");
}

/// Bytes in a file that is called NIfTI.
pub fn nifti(bytes: &[u8]) {
    mesh_file(bytes, "nii");
    label_of(bytes, "nii");
}

/// Bytes in a file that is called NRRD.
pub fn nrrd(bytes: &[u8]) {
    mesh_file(bytes, "nrrd");
    label_of(bytes, "nrrd");
}

/// Bytes in a file that is called DICOM.
pub fn dicom(bytes: &[u8]) {
    mesh_file(bytes, "dcm");
}

fn mesh_file(bytes: &[u8], extension: &str) {
    inspected(read_from(bytes, bytes.len() as u64, Some(extension)));
}

fn label_of(bytes: &[u8], extension: &str) {
    inspected(read_label_from(
        bytes,
        bytes.len() as u64,
        Some(extension),
        1,
    ));
}

/// An error must have words; a mesh must be one.
fn inspected(read: Result<Loaded, ReadError>) {
    let mesh = match read {
        Err(problem) => return assert!(!problem.to_string().is_empty()),
        Ok(loaded) => loaded.mesh,
    };
    assert!(!mesh.triangles().is_empty(), "a mesh without triangles");
    let count = mesh.vertices().len();
    let within = |index: &u32| usize::try_from(*index).is_ok_and(|index| index < count);
    assert!(
        mesh.triangles().iter().flatten().all(within),
        "a corner out of range"
    );
    let finite = |place: &Point3<f64>| place.iter().all(|c| c.is_finite());
    assert!(mesh.vertices().iter().all(finite), "a corner at no place");
    if solid::defects(&mesh).is_empty() {
        let volume = mesh.volume();
        assert!(
            Solid::try_from(mesh).is_ok() || volume <= 0.0,
            "no defect, and no solid"
        );
    }
}

/// Text in a case file.
pub fn case(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let Ok(file) = CaseFile::parse(text) else {
        return;
    };
    if file.check().is_err() {
        return;
    }
    let written = text_of(&file);
    match CaseFile::parse(&written) {
        // Texts, since a number that is none is not equal to itself.
        Ok(again) => assert_eq!(
            written,
            text_of(&again),
            "a case is not read back as written"
        ),
        Err(problem) => panic!("a case cannot be read back: {problem}\n{written}"),
    }
}

fn text_of(file: &CaseFile) -> String {
    match file.to_text() {
        Ok(text) => text,
        Err(problem) => panic!("a case cannot be written: {problem}"),
    }
}

/// Text in an instrument file.
pub fn instruments(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(set) = Instruments::parse(&text) {
        let sizes = set.reamers().iter().chain(set.cups());
        assert!(
            sizes
                .into_iter()
                .all(|size| size.is_finite() && *size > 0.0)
        );
    }
}

/// Text in a landmark file.
pub fn landmarks(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    match Marks::parse(&text, "file").and_then(|marks| marks.landmarks()) {
        Err(problem) => assert!(!problem.to_string().is_empty()),
        Ok(landmarks) => {
            let all = [landmarks.asis, landmarks.pubic_tubercle];
            let places = all.iter().flat_map(|pair| [pair.right, pair.left]);
            let finite = |place: Point3<f64>| place.iter().all(|c| c.is_finite());
            assert!(places.into_iter().all(finite), "a landmark at no place");
        }
    }
}

/// A mesh of triangles between any corners, mended in every way there is.
pub fn mend(bytes: &[u8]) {
    let Ok(Some(mesh)) = tangled(&mut Unstructured::new(bytes)) else {
        return;
    };
    if within_reach(&mesh).is_err() {
        return;
    }
    let mut mending = Mending::of(&mesh);
    mending.join(0.02);
    mending.drop_surplus();
    mending.agree();
    mending.drop_crumbs(3.0);
    mending.face_out();
    mending.untangle(20.0);
    mending.close_holes(20.0);
    mending.drop_slivers();
    let Ok(mended) = mending.finish() else {
        return;
    };
    let is_finite = |p: &Point3<f64>| p.iter().all(|c| c.is_finite());
    assert!(
        mended.mesh.vertices().iter().all(is_finite),
        "a corner at no place"
    );
    let difference = mended.difference(&mesh);
    assert!(
        !mended.changes.is_empty() || difference.whole().is_nothing(),
        "something moved that is not told"
    );
}

/// A closed mesh, reamers and a cup made from `bytes`, measured.
pub fn measure(bytes: &[u8]) {
    let mut bytes = Unstructured::new(bytes);
    // Bytes that run out give zeros, so that an error here is only a tool without direction or size.
    let _ = measured(&mut bytes);
}

fn measured(bytes: &mut Unstructured) -> Result<(), arbitrary::Error> {
    let simple = bool::arbitrary(bytes)?;
    let mesh = if simple {
        stretched(bytes)?
    } else {
        tangled(bytes)?
    };
    let Some(bone) = mesh.and_then(|mesh| accept_as_it_is(mesh).ok()) else {
        return Ok(());
    };
    let mut reamers = Vec::new();
    for _ in 0..bytes.int_in_range(0..=3)? {
        let Some(head) = tool(bytes)? else { continue };
        let length = bool::arbitrary(bytes)?
            .then(|| number(bytes, 0.0, 200.0))
            .transpose()?;
        let bullet = match length {
            None => Ok(Bullet::open(head)),
            Some(length) => Bullet::with_column(head, length),
        };
        reamers.extend(bullet);
    }
    check_removals(&bone, &reamers, simple);
    if let Some(cup) = tool(bytes)? {
        check_cup(&bone, &cup, &reamers, simple);
    }
    Ok(())
}

/// No reamer gives bone back or takes more than there is; in a tangle, where bone counts more than once, the numbers
/// are at least numbers.
fn check_removals(bone: &Solid, reamers: &[Bullet], simple: bool) {
    let Ok(removals) = removals(bone, reamers) else {
        return;
    };
    for removal in removals {
        let all = [removal.volume, removal.error_bound];
        assert!(
            all.iter().all(|n| n.is_finite()),
            "{all:?} of {reamers:?} in {bone:?}"
        );
        if simple {
            let most = bone.volume() * (1.0 + ROUNDING) + removal.error_bound + ROUNDING;
            assert!(removal.volume >= 0.0, "a reamer gives bone back");
            assert!(
                removal.cumulative <= most,
                "more bone is gone than there was"
            );
        }
    }
}

fn check_cup(bone: &Solid, cup: &Hemisphere, reamers: &[Bullet], simple: bool) {
    let coverage = within::coverage(bone, cup);
    let after = union::area_outside(bone, cup, reamers);
    let share = rim::arcs_inside(bone, &cup.rim()).share();
    let all = [coverage, after.value, share];
    assert!(
        all.iter().all(|n| n.is_finite()),
        "{all:?} of {cup:?} in {bone:?}"
    );
    if simple {
        let bounds = -ROUNDING..=1.0 + ROUNDING;
        let left = after.value / cup.area();
        let slack = after.error_bound / cup.area() + ROUNDING;
        assert!(bounds.contains(&coverage) && bounds.contains(&share));
        assert!(left <= coverage + slack, "reaming adds coverage");
    }
}

/// What sums over a few thousand triangles may be off by, as a share.
const ROUNDING: f64 = 1e-6;

/// A body without crossings: a sample, stretched, sheared and moved.
fn stretched(bytes: &mut Unstructured) -> Result<Option<TriMesh>, arbitrary::Error> {
    let body = match bytes.int_in_range(0..=3)? {
        0 => samples::cuboid([40.0, 30.0, 20.0]),
        1 => samples::sphere(30.0, bytes.int_in_range(0..=2)?),
        2 => samples::torus(
            30.0,
            8.0,
            bytes.int_in_range(3..=12)?,
            bytes.int_in_range(3..=8)?,
        ),
        _ => samples::lumpy_ball(
            30.0,
            0.2,
            bytes.int_in_range(4..=12)?,
            bytes.int_in_range(4..=8)?,
        ),
    };
    let mut rows = [[0.0; 3]; 3];
    for (k, entry) in rows.iter_mut().flatten().enumerate() {
        let middle = if k % 4 == 0 { 1.0 } else { 0.0 };
        *entry = middle + number(bytes, -0.3, 0.3)?;
    }
    let stretch = Matrix3::from_fn(|row, column| rows[row][column]);
    let shift = Vector3::new(
        number(bytes, -30.0, 30.0)?,
        number(bytes, -30.0, 30.0)?,
        number(bytes, -30.0, 30.0)?,
    );
    let moved = body
        .vertices()
        .iter()
        .map(|p| stretch * p + shift)
        .collect();
    Ok(TriMesh::new(moved, body.triangles().to_vec()).ok())
}

/// A few corners anywhere, and triangles between any of them.
fn tangled(bytes: &mut Unstructured) -> Result<Option<TriMesh>, arbitrary::Error> {
    let count = bytes.int_in_range(4..=24_u32)?;
    let mut corners = Vec::new();
    for _ in 0..count {
        corners.push(Point3::new(
            anything(bytes)?,
            anything(bytes)?,
            anything(bytes)?,
        ));
    }
    let mut triangles = Vec::new();
    for _ in 0..bytes.int_in_range(4..=48)? {
        let mut corner = || bytes.int_in_range(0..=count - 1);
        let [a, b, c] = [corner()?, corner()?, corner()?];
        triangles.push([a, b, c]);
        // Both sides of a leaf make it closed.
        if bool::arbitrary(bytes)? {
            triangles.push([a, c, b]);
        }
    }
    Ok(TriMesh::new(corners, triangles).ok())
}

/// A tool near the body, or anywhere that a tool may be.
fn tool(bytes: &mut Unstructured) -> Result<Option<Hemisphere>, arbitrary::Error> {
    let mut numbers = [0.0; 7];
    for place in &mut numbers {
        *place = anything(bytes)?;
    }
    let [x, y, z, a, b, c, radius] = numbers;
    if x.abs().max(y.abs()).max(z.abs()) > FARTHEST || radius > LARGEST_DIAMETER / 2.0 {
        return Ok(None);
    }
    Ok(Hemisphere::new(Point3::new(x, y, z), Vector3::new(a, b, c), radius).ok())
}

/// Mostly a number of the size of a hip, in steps that meet corners and faces; now and then any bits at all.
fn anything(bytes: &mut Unstructured) -> Result<f64, arbitrary::Error> {
    match bytes.int_in_range(0..=7_u8)? {
        0 => Ok(f64::from_bits(u64::arbitrary(bytes)?)),
        1..=3 => Ok(f64::from(bytes.int_in_range(-40..=40_i32)?)),
        _ => number(bytes, -60.0, 60.0),
    }
}

fn number(bytes: &mut Unstructured, from: f64, to: f64) -> Result<f64, arbitrary::Error> {
    let step = f64::from(u16::arbitrary(bytes)?) / f64::from(u16::MAX);
    Ok(from + (to - from) * step)
}
