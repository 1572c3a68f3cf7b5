//! Landmarks, side and native socket found on synthetic hip bones in random poses, against what their
//! generator knows.
//!
//! The rules of the search were looked at on the presets. The shapes of [`HELD_OUT`] are random
//! draws from the published spreads that were never looked at while they were set; the same bounds hold
//! for them.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test reports by panicking, and tells how far off it was"
)]

use std::f64::consts::TAU;
use std::sync::OnceLock;

use cupwright_anatomy::guess::{Basis, Correction, Mark, MidlineBasis, Part, Sureness};
use cupwright_anatomy::synthetic::{PARAMETERS, Pelvis, Preset, Region, Resolution, Shape, pelvis};
use cupwright_anatomy::{
    Definition, Guess, Landmarks, NativeRim, NotAPelvis, Orientation, PelvicFrame, Side, SphereFit,
    guess,
};
use cupwright_geometry::{TriMesh, samples};
use cupwright_procedure::marks::Marks;
use cupwright_procedure::survey::{Ask, Survey};
use cupwright_procedure::unit::Unit;
use nalgebra::{Isometry3, Matrix3, Point3, Quaternion, UnitQuaternion, UnitVector3, Vector3};
use rayon::prelude::*;

/// How many random shapes are held out.
const HELD_OUT: u64 = 4;

/// A sequence of random numbers that is the same each time (splitmix64).
struct Draw(u64);

impl Draw {
    /// Evenly between 0 and 1.
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        f64::from(u32::try_from((z ^ (z >> 31)) >> 32).unwrap()) / f64::from(u32::MAX)
    }

    fn between(&mut self, least: f64, most: f64) -> f64 {
        least + self.share() * (most - least)
    }

    /// Any rotation, each as likely as any other, and a place within half a metre.
    fn pose(&mut self) -> Isometry3<f64> {
        let (a, b, c) = (self.share(), TAU * self.share(), TAU * self.share());
        let (p, q) = ((1.0 - a).sqrt(), a.sqrt());
        let turn = Quaternion::new(p * b.sin(), p * b.cos(), q * c.sin(), q * c.cos());
        let place = Vector3::from_fn(|_, _| self.between(-500.0, 500.0));
        Isometry3::from_parts(place.into(), UnitQuaternion::from_quaternion(turn))
    }

    fn side(&mut self) -> Side {
        if self.share() < 0.5 {
            Side::Right
        } else {
            Side::Left
        }
    }
}

fn coarse(shape: &Shape) -> Pelvis {
    pelvis(shape, Side::Right, Resolution::Coarse).unwrap()
}

fn presets() -> &'static [(String, Pelvis)] {
    static MADE: OnceLock<Vec<(String, Pelvis)>> = OnceLock::new();
    MADE.get_or_init(|| {
        Preset::ALL
            .par_iter()
            .map(|p| (p.name().to_owned(), coarse(&p.shape().unwrap())))
            .collect()
    })
}

/// Shapes between the average man and woman whose numbers are off by up to a published standard deviation
/// and a half, or by as much as is plausible where none is published.
fn held_out() -> &'static [(String, Pelvis)] {
    const SPREADS: [(&str, f64); 14] = [
        ("asis_width_mm", 24.0),
        ("app_height_mm", 12.0),
        ("crest_height_mm", 6.0),
        ("psis_width_mm", 12.0),
        ("pelvic_depth_mm", 9.0),
        ("psis_rise_mm", 6.0),
        ("hip_spacing_mm", 7.0),
        ("hip_behind_mm", 4.0),
        ("hip_below_mm", 4.0),
        ("tubercle_spacing_mm", 8.0),
        ("symphysis_height_mm", 5.0),
        ("inclination_deg", 8.0),
        ("anteversion_deg", 8.0),
        ("socket_diameter_mm", 3.0),
    ];
    static MADE: OnceLock<Vec<(String, Pelvis)>> = OnceLock::new();
    MADE.get_or_init(|| {
        let made = (0..HELD_OUT).into_par_iter().filter_map(|seed| {
            let mut draw = Draw(1000 + seed);
            let base = [Preset::AverageMale, Preset::AverageFemale][usize::from(seed % 2 == 1)];
            let mut shape = base.shape().unwrap();
            for (name, spread) in SPREADS {
                let index = PARAMETERS.iter().position(|p| p.name == name).unwrap();
                let value = shape.values()[index] + draw.between(-spread, spread);
                shape.set(name, value).unwrap();
            }
            let made = pelvis(&shape, Side::Right, Resolution::Coarse).ok()?;
            Some((format!("held out {seed}"), made))
        });
        made.collect()
    })
}

/// What is known of a bone in a pose, mm and rad.
struct Truth {
    side: Side,
    pose: Isometry3<f64>,
    landmarks: Landmarks,
    centre: Point3<f64>,
    radius: f64,
    rim_axis: UnitVector3<f64>,
    rim_diameter: f64,
    depth: f64,
    facing: Orientation,
}

/// The mesh of a bone on a side in a pose, and the truth about it.
fn placed(bone: &Pelvis, side: Side, pose: Isometry3<f64>) -> (TriMesh, Truth) {
    let mirrored = |v: Vector3<f64>| Vector3::new(side.sign() * v.x, v.y, v.z);
    let mesh = match side {
        Side::Right => bone.mesh.clone(),
        Side::Left => bone.mesh.mirrored_x(),
    };
    let (middle, axis) = plane_of_rim(bone);
    let on_rim = without_notch(bone);
    let count = f64::from(u32::try_from(on_rim.len()).unwrap());
    let across = |p: &Vector3<f64>| (p - middle - axis * axis.dot(&(p - middle))).norm();
    let socket = of_region(bone, |r| matches!(r, Region::Fossa | Region::Lunate));
    let below = socket.iter().map(|p| (middle - p.coords).dot(&axis));
    // The sphere nearest to the lunate surface: the generator's own, but up to 0.5 mm from that where the socket
    // is lengthened.
    let lunate = of_region(bone, |r| r == Region::Lunate);
    let fit = SphereFit::least_squares(&lunate).unwrap();
    let axis_here = UnitVector3::new_normalize(mirrored(axis));
    let truth = Truth {
        side,
        pose,
        landmarks: bone.landmarks.moved(&pose),
        centre: pose * Point3::from(mirrored(fit.centre.coords)),
        radius: fit.radius,
        rim_axis: pose * axis_here,
        rim_diameter: 2.0 * on_rim.iter().map(across).sum::<f64>() / count,
        depth: below.fold(0.0, f64::max),
        facing: Orientation::of_axis(&axis_here, side, Definition::Radiographic),
    };
    (mesh.moved(&pose), truth)
}

fn of_region(bone: &Pelvis, is: impl Fn(Region) -> bool) -> Vec<Point3<f64>> {
    let triangles = bone.mesh.triangles().iter().zip(&bone.regions);
    let mut corners: Vec<u32> = triangles
        .filter(|(_, region)| is(**region))
        .flat_map(|(t, _)| *t)
        .collect();
    corners.sort_unstable();
    corners.dedup();
    let vertices = bone.mesh.vertices();
    corners.iter().map(|&i| vertices[i as usize]).collect()
}

/// The generator's own line of the rim, the notch (4:36 to 7:24) left out.
fn without_notch(bone: &Pelvis) -> Vec<Vector3<f64>> {
    let degrees = bone.socket.rim.iter().enumerate();
    let kept = degrees.filter(|(degree, _)| !(138..222).contains(degree));
    kept.map(|(_, p)| p.coords).collect()
}

fn plane_of_rim(bone: &Pelvis) -> (Vector3<f64>, Vector3<f64>) {
    let points = without_notch(bone);
    let count = f64::from(u32::try_from(points.len()).unwrap());
    let middle = points.iter().sum::<Vector3<f64>>() / count;
    let spread: Matrix3<f64> = points
        .iter()
        .map(|p| (p - middle) * (p - middle).transpose())
        .sum();
    let eigen = spread.symmetric_eigen();
    let normal: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
    (middle, normal * normal.dot(&bone.socket.axis).signum())
}

/// The largest errors of a guess, mm and degrees.
#[derive(Clone, Copy, Debug, Default)]
struct Errors {
    own: f64,
    mirrored: f64,
    frame: f64,
    midline: f64,
    centre: f64,
    radius: f64,
    rim: f64,
    angles: f64,
    rim_diameter: f64,
    depth: f64,
}

impl Errors {
    fn of(mesh: &TriMesh, found: &Guess, truth: &Truth) -> Self {
        let mut errors = Self::default();
        for mark in Mark::ALL {
            let pair = match mark {
                Mark::Asis => truth.landmarks.asis,
                Mark::PubicTubercle => truth.landmarks.pubic_tubercle,
                Mark::Psis => truth.landmarks.psis.unwrap(),
            };
            for side in [Side::Right, Side::Left] {
                let estimate = found.estimate(mark, side);
                let off = (estimate.at - pair.on(side)).norm();
                let worst = match estimate.basis {
                    Basis::Mirrored => &mut errors.mirrored,
                    _ => &mut errors.own,
                };
                *worst = worst.max(off);
            }
        }
        let frame = PelvicFrame::anterior_pelvic_plane(&found.landmarks()).unwrap();
        let true_frame = PelvicFrame::anterior_pelvic_plane(&truth.landmarks).unwrap();
        let turned = frame.to_pelvic().rotation * true_frame.to_mesh().rotation;
        errors.frame = turned.angle().to_degrees();
        let right = truth.pose * Vector3::x();
        errors.midline = right.angle(&found.midline.right).to_degrees();
        errors.centre = (found.socket.centre - truth.centre).norm();
        errors.radius = (found.socket.radius - truth.radius).abs();
        let socket = &found.socket;
        let rim = NativeRim::of(mesh, &socket.centre, socket.radius, &frame, truth.side).unwrap();
        errors.rim = rim.axis.angle(&truth.rim_axis).to_degrees();
        let facing = rim.orientation(Definition::Radiographic);
        let off = facing.departure_from(&truth.facing).unwrap();
        errors.angles = off
            .inclination
            .abs()
            .max(off.anteversion.abs())
            .to_degrees();
        errors.rim_diameter = (rim.diameter - truth.rim_diameter).abs();
        errors.depth = (rim.depth - truth.depth).abs();
        errors
    }

    /// Holds if lengths are within `mm` and angles within `degrees`.
    #[track_caller]
    fn are_within(&self, mm: f64, degrees: f64, what: &str) {
        let lengths = [
            self.own,
            self.mirrored,
            self.centre,
            self.radius,
            self.rim_diameter,
            self.depth,
        ];
        let angles = [self.frame, self.midline, self.rim, self.angles];
        assert!(lengths.iter().all(|e| *e <= mm), "{what}: {self:.2?}");
        assert!(angles.iter().all(|e| *e <= degrees), "{what}: {self:.2?}");
    }

    fn most(all: impl Iterator<Item = Self>) -> Self {
        all.fold(Self::default(), |a, b| Self {
            own: a.own.max(b.own),
            mirrored: a.mirrored.max(b.mirrored),
            frame: a.frame.max(b.frame),
            midline: a.midline.max(b.midline),
            centre: a.centre.max(b.centre),
            radius: a.radius.max(b.radius),
            rim: a.rim.max(b.rim),
            angles: a.angles.max(b.angles),
            rim_diameter: a.rim_diameter.max(b.rim_diameter),
            depth: a.depth.max(b.depth),
        })
    }
}

/// The errors on a bone, on both sides, each in a pose of its own, its mesh first `changed`.
fn errors_on(
    name: &str,
    bone: &Pelvis,
    draw: &mut Draw,
    mut changed: impl FnMut(TriMesh, &mut Draw) -> TriMesh,
) -> Errors {
    let both = [Side::Right, Side::Left].map(|side| {
        let (mesh, truth) = placed(bone, side, draw.pose());
        let mesh = changed(mesh, draw);
        let found = guess(&mesh, None).unwrap_or_else(|why| panic!("{name}: {why}"));
        assert_eq!(found.side, side, "{name}: margin {}", found.side_margin);
        assert_eq!(found.part, Part::Hemipelvis, "{name}");
        Errors::of(&mesh, &found, &truth)
    });
    let most = Errors::most(both.into_iter());
    println!("{name}: {most:.2?}");
    most
}

/// Vertices within a cube become one: a coarser mesh, not always closed.
fn coarser(mesh: &TriMesh, cube: f64) -> TriMesh {
    let mut places: Vec<([i64; 3], Vector3<f64>, f64)> = Vec::new();
    let mut index = std::collections::HashMap::new();
    let vertices = mesh.vertices().iter().map(|p| {
        #[expect(clippy::cast_possible_truncation, reason = "a test's small numbers")]
        let key = [p.x, p.y, p.z].map(|c| (c / cube).floor() as i64);
        let at = *index.entry(key).or_insert_with(|| {
            places.push((key, Vector3::zeros(), 0.0));
            places.len() - 1
        });
        places[at].1 += p.coords;
        places[at].2 += 1.0;
        u32::try_from(at).unwrap()
    });
    let vertices: Vec<u32> = vertices.collect();
    let triangles = mesh.triangles().iter();
    let triangles = triangles
        .map(|t| t.map(|i| vertices[i as usize]))
        .filter(|[a, b, c]| a != b && b != c && c != a)
        .collect();
    let places = places.iter().map(|p| Point3::from(p.1 / p.2)).collect();
    TriMesh::new(places, triangles).unwrap()
}

/// Every vertex off by up to `most` mm along each axis.
fn rough(mesh: &TriMesh, most: f64, draw: &mut Draw) -> TriMesh {
    let off =
        |p: &Point3<f64>, draw: &mut Draw| p + Vector3::from_fn(|_, _| draw.between(-most, most));
    let vertices = mesh.vertices().iter().map(|p| off(p, draw)).collect();
    TriMesh::new(vertices, mesh.triangles().to_vec()).unwrap()
}

/// The survey of a mesh in a unit that is drawn: it is told which, and then answered in mm.
fn in_any_unit(name: &str, mesh: &TriMesh, draw: &mut Draw) -> Survey {
    let ask = Ask {
        side: None,
        corrections: Vec::new(),
        error_mm: 3.0,
    };
    let unit = match draw.share() {
        share if share < 0.33 => Unit::Centimetres,
        share if share < 0.67 => Unit::Inches,
        _ => Unit::Metres,
    };
    let factor = unit.millimetres();
    let scaled = mesh.scaled(1.0 / factor);
    let refused = Survey::of(&scaled, &ask).unwrap_err().to_string();
    let told = format!("looks like a hemipelvis in {unit}; scale it by {factor}");
    assert!(refused.contains(&told), "{name}: {refused}");
    Survey::of(&scaled.scaled(factor), &ask).unwrap_or_else(|why| panic!("{name}: {why}"))
}

#[test]
fn landmarks_and_socket_of_every_preset_are_found_within_2_mm_and_2_degrees() {
    let mut draw = Draw(1);
    for (name, bone) in presets() {
        errors_on(name, bone, &mut draw, |mesh, _| mesh).are_within(2.0, 2.0, name);
    }
}

#[test]
fn the_same_holds_in_any_unit_and_resolution() {
    let mut draw = Draw(10);
    for (name, bone) in presets() {
        let side = draw.side();
        let (mesh, truth) = placed(bone, side, draw.pose());
        let cube = draw.between(0.0, 2.5);
        let mesh = match cube {
            fine if fine < 0.8 => mesh.subdivided(),
            cube if cube < 1.6 => mesh,
            cube => coarser(&mesh, cube),
        };
        let survey = in_any_unit(name, &mesh, &mut draw);
        assert_eq!(survey.guess().side, side, "{name}");
        let errors = Errors::of(&mesh, survey.guess(), &truth);
        println!("{name}, {} triangles: {errors:.2?}", mesh.triangles().len());
        errors.are_within(2.0, 2.0, name);
    }
}

#[test]
fn the_same_holds_for_shapes_that_were_held_out() {
    let mut draw = Draw(2);
    assert!(held_out().len() >= 3, "too few of the shapes are bones");
    for (name, bone) in held_out() {
        errors_on(name, bone, &mut draw, |mesh, _| mesh).are_within(2.0, 2.0, name);
    }
}

#[test]
fn the_side_is_never_wrong_in_200_draws_of_shape_pose_fineness_and_noise() {
    let mut draw = Draw(3);
    let bones: Vec<_> = presets().iter().chain(held_out()).collect();
    let mut least = f64::INFINITY;
    let mut wrong = Vec::new();
    for number in 0..200 {
        let (name, bone) = bones[number % bones.len()];
        let side = draw.side();
        let (mesh, _) = placed(bone, side, draw.pose());
        let mesh = coarser(&mesh, draw.between(1.5, 5.0));
        let noise = draw.between(0.0, 0.5);
        let mesh = rough(&mesh, noise, &mut draw);
        match guess(&mesh, None) {
            Ok(found) if found.side == side => least = least.min(found.side_margin),
            Ok(found) => wrong.push(format!("{name}: margin {:.2}", found.side_margin)),
            Err(why) => wrong.push(format!("{name}: {why}")),
        }
    }
    println!("least margin {least:.2}");
    assert!(wrong.is_empty(), "{} wrong: {wrong:#?}", wrong.len());
}

/// Roughness of 0.4 mm turns the face of the symphysis by 0.9° in the mean, and mirror images with it by 5 mm:
/// that is not within 2 mm, but it is said.
#[test]
fn on_a_rough_mesh_midline_and_landmarks_are_off_by_no_more_than_is_said() {
    let mut draw = Draw(9);
    for (name, bone) in presets().iter().step_by(4).chain(held_out().iter().take(1)) {
        let (mesh, truth) = placed(bone, Side::Left, draw.pose());
        let found = guess(&rough(&mesh, 0.4, &mut draw), None).unwrap();
        assert_eq!(found.side, Side::Left);
        let right = truth.pose * Vector3::x();
        let off = right.angle(&found.midline.right);
        let centre = (found.socket.centre - truth.centre).norm();
        println!(
            "{name}, rough: midline {:.2} of {:.2}, centre {centre:.2}",
            off.to_degrees(),
            found.midline.within.to_degrees()
        );
        assert!(off < 2.0 * found.midline.within, "{name}: {off}");
        assert!(off < 3_f64.to_radians(), "{name}: {off}");
        assert!(centre < 1.0, "{name}: {centre}");
        for (mark, pair) in [
            (Mark::Asis, truth.landmarks.asis),
            (Mark::PubicTubercle, truth.landmarks.pubic_tubercle),
        ] {
            for side in [Side::Right, Side::Left] {
                let estimate = found.estimate(mark, side);
                let off = (estimate.at - pair.on(side)).norm();
                assert!(
                    off < 2.0 * estimate.within,
                    "{name}: {mark:?} {side:?} {off}"
                );
            }
        }
    }
}

#[test]
fn what_is_written_and_read_again_gives_the_same_frame() {
    let (mesh, _) = placed(&presets()[2].1, Side::Left, Draw(11).pose());
    let ask = Ask {
        side: None,
        corrections: Vec::new(),
        error_mm: 3.0,
    };
    let survey = Survey::of(&mesh, &ask).unwrap();
    let mut file = Vec::new();
    survey.sheet("hip.stl").write(&mut file).unwrap();
    let marks = Marks::parse(&String::from_utf8(file).unwrap(), "hip.landmarks.ron").unwrap();
    assert_eq!(marks.side, Some(Side::Left));
    let frame = |landmarks| PelvicFrame::anterior_pelvic_plane(&landmarks).unwrap();
    let (before, after) = (
        frame(survey.guess().landmarks()).to_pelvic(),
        frame(marks.landmarks().unwrap()).to_pelvic(),
    );
    // Written to a tenth of a micrometre.
    let centre = survey.guess().socket.centre;
    assert!((before * centre - after * centre).norm() < 1e-3);
    assert!(before.rotation.angle_to(&after.rotation) < 1e-5);
    assert!((marks.hip_centre().unwrap() - centre).norm() < 1e-3);
}

/// Both hip bones of a shape, a lump between them for a sacrum.
fn whole(bone: &Pelvis) -> TriMesh {
    let ball = samples::sphere(1.0, 4);
    let psis = bone.landmarks.psis.unwrap().right;
    let half = Vector3::new(psis.x, 30.0, 55.0);
    let middle = Vector3::new(0.0, psis.y + half.y + 3.0, 0.0);
    let lump = ball
        .vertices()
        .iter()
        .map(|p| Point3::from(p.coords.component_mul(&half) + middle));
    let sacrum = TriMesh::new(lump.collect(), ball.triangles().to_vec()).unwrap();
    bone.mesh.joined(&bone.mesh.mirrored_x()).joined(&sacrum)
}

#[test]
fn a_whole_pelvis_has_its_landmarks_on_both_sides() {
    let mut draw = Draw(5);
    for (name, bone) in presets().iter().step_by(3).chain(held_out().iter().take(2)) {
        for side in [Side::Right, Side::Left] {
            let pose = draw.pose();
            let (_, truth) = placed(bone, side, pose);
            let mesh = whole(bone).moved(&pose);
            let found = guess(&mesh, Some(side)).unwrap();
            assert_eq!((found.part, found.side), (Part::WholePelvis, side));
            assert_eq!(found.midline.basis, MidlineBasis::BothSides);
            assert!(
                found.side_sureness() == Sureness::Good,
                "{}",
                found.side_margin
            );
            let errors = Errors::of(&mesh, &found, &truth);
            println!(
                "{name}, whole: margin {:.2} {errors:.2?}",
                found.side_margin
            );
            errors.are_within(2.0, 2.0, name);
        }
    }
}

#[test]
fn the_same_mesh_gives_the_same_bits() {
    let (mesh, _) = placed(&presets()[0].1, Side::Left, Draw(6).pose());
    assert_eq!(guess(&mesh, None), guess(&mesh, None));
}

#[test]
fn what_is_no_pelvis_is_refused_with_a_reason() {
    for shape in [
        samples::cuboid([100.0, 80.0, 60.0]),
        samples::sphere(40.0, 4),
        samples::torus(60.0, 20.0, 80, 40),
        samples::lumpy_ball(90.0, 0.3, 60, 40),
    ] {
        assert!(guess(&shape, None).is_err());
    }
    let bone = &presets()[0].1;
    let centre = bone.socket.centre;
    let piece = kept(&bone.mesh, |p| (p - centre).norm() < 45.0);
    let why = guess(&piece, None).unwrap_err();
    assert!(
        matches!(
            why,
            NotAPelvis::Unlike { .. } | NotAPelvis::Proportion { .. }
        ),
        "{why}"
    );
    // A pelvis without the upper half of its wing has no ASIS, one cut through the pubis no tubercle.
    for (what, piece) in [
        ("wing", kept(&bone.mesh, |p| p.z < -35.0)),
        ("pubis", kept(&bone.mesh, |p| p.x > 55.0)),
    ] {
        let found = guess(&piece, None);
        println!("{what}: {found:.1?}");
        let told = found.map(|g| {
            g.estimate(Mark::Asis, Side::Right)
                .sureness()
                .min(g.midline.sureness())
        });
        assert!(
            !matches!(told, Ok(Sureness::Good)),
            "{what} cut off is not seen: {told:?}"
        );
    }
}

fn kept(mesh: &TriMesh, is: impl Fn(&Point3<f64>) -> bool) -> TriMesh {
    let whole = |t: &&[u32; 3]| t.iter().all(|&i| is(&mesh.vertices()[i as usize]));
    let triangles: Vec<[u32; 3]> = mesh.triangles().iter().filter(whole).copied().collect();
    TriMesh::new(mesh.vertices().to_vec(), triangles).unwrap()
}

#[test]
fn a_correction_takes_its_mirror_image_and_the_frame_with_it() {
    let (mesh, truth) = placed(&presets()[1].1, Side::Right, Draw(8).pose());
    let found = guess(&mesh, None).unwrap();
    let up = truth.pose * Vector3::new(0.0, 0.0, 6.0);
    let at = found.estimate(Mark::Asis, Side::Right).at + up;
    let said = |side, at| Correction::Landmark {
        mark: Mark::Asis,
        side,
        at,
    };
    let as_it_is = found.estimate(Mark::Asis, Side::Right).at;
    assert_eq!(found.corrected(&[said(Side::Right, as_it_is)]), found);
    let one = found.corrected(&[said(Side::Right, at)]);
    let other = one.estimate(Mark::Asis, Side::Left);
    assert_eq!(one.estimate(Mark::Asis, Side::Right).basis, Basis::Given);
    assert_eq!(other.basis, Basis::Mirrored);
    assert!((other.at - found.estimate(Mark::Asis, Side::Left).at - up).norm() < 0.1);
    // Both given, 6 mm askew: the line across and the midline turn by 6 mm over its length, and the tubercle
    // that is a mirror image goes along.
    let left = found.estimate(Mark::Asis, Side::Left).at;
    let both = one.corrected(&[said(Side::Left, left)]);
    let turned = both.midline.right.angle(&found.midline.right);
    let width = (at - left).norm();
    assert!((turned - 6.0 / width).abs() < 1e-3, "{turned}");
    assert_eq!(both.midline.basis, MidlineBasis::BothSides);
    let tubercle = |g: &Guess| g.estimate(Mark::PubicTubercle, Side::Left).at;
    assert!((tubercle(&both) - tubercle(&one)).norm() > 1.0);
    let frame = |g: &Guess| PelvicFrame::anterior_pelvic_plane(&g.landmarks()).unwrap();
    let angle = frame(&both)
        .to_pelvic()
        .rotation
        .angle_to(&frame(&found).to_pelvic().rotation);
    assert!(angle > 0.02, "{angle}");
}
