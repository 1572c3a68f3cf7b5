//! A bone of 600,000 triangles from file to figures: still right, to the width of its own facets.
//!
//! The bone is a polyhedron between two spheres about the origin, the one inside its faces and the
//! one through its outermost vertex. Bone within a tool grows with the bone, so each measure must
//! lie between the closed forms for the two spheres; they differ by 2 parts in 100,000.
//!
//! What it costs in memory is checked where the program is built: `crates/cli/tests/large_mesh.rs`.

#![expect(clippy::print_stdout, reason = "a test prints what it measured")]

use std::f64::consts::{PI, TAU};

use cupwright_geometry::{Bullet, Hemisphere, Solid, TriMesh, column, rim, samples, within};
use cupwright_io::Format;
use cupwright_tests::bones;
use nalgebra::{Point3, UnitVector3, Vector3};

const TRIANGLES: usize = 600_000;

/// Radius of the sphere that the bone stands for, of the tools, and the distance of the tools'
/// centre from the sphere's, in mm: the cup stands out of the bone by a third.
const BONE: f64 = 40.0;
const TOOL: f64 = 26.0;
const OUT: f64 = 35.0;

/// How far the axis of the tilted cup is turned from the line through both centres.
const TILT: f64 = 0.7;

/// Bounds of a bone that is nearly a sphere about the origin.
#[derive(Clone, Copy, Debug)]
struct Shell {
    inner: f64,
    outer: f64,
}

#[test]
fn six_hundred_thousand_triangles_give_right_answers() {
    let bone = from_file(&samples::lumpy_ball(BONE, 0.0, 600, 501));
    assert_eq!(bone.mesh().triangles().len(), TRIANGLES);
    let shell = Shell::around(bone.mesh());
    assert!(shell.outer - shell.inner < 1e-3, "{shell:?}");

    // Off every line of symmetry of the mesh.
    let outward = UnitVector3::new_normalize(Vector3::new(0.4, 0.6, 0.7));
    let cup = tool(outward, outward.into_inner());
    let within = within::hemisphere(&bone, &cup);
    shell.check(
        "volume in the half ball",
        within.volume,
        volume_in_half_ball,
    );
    shell.check("area in bone", within.area, area_in_bone);

    let bullet = column::volume_in_bullet(&bone, &Bullet::open(cup));
    shell.check("volume in the bullet", bullet, volume_in_bullet);

    let sideways = outward.cross(&Vector3::z()).normalize();
    let tilted = TILT.cos() * outward.into_inner() + TILT.sin() * sideways;
    let arcs = rim::arcs_inside(&bone, &tool(outward, tilted).rim());
    shell.check("tilted rim in bone", arcs.share(), share_of_tilted_rim);
    assert_eq!(arcs.intervals().len(), 1);
}

/// The mesh as a solid, by way of a file.
fn from_file(mesh: &TriMesh) -> Solid {
    let folder = tempfile::tempdir().expect("a folder for the file");
    let path = folder.path().join("large.stl");
    cupwright_io::write_mesh(&path, mesh, Format::StlBinary).expect("the file is written");
    let loaded = cupwright_io::read_mesh(&path).expect("the file is read");
    assert_eq!(loaded.remarks, []);
    bones::solid(loaded.mesh)
}

fn tool(outward: UnitVector3<f64>, axis: Vector3<f64>) -> Hemisphere {
    let centre = Point3::from(OUT * outward.into_inner());
    Hemisphere::new(centre, axis, TOOL).expect("a fixture's tool can be")
}

impl Shell {
    fn around(mesh: &TriMesh) -> Self {
        let height = |t| {
            let normal = mesh.area_vector(t).normalize();
            normal.dot(&mesh.corners(t)[0].coords)
        };
        let heights = (0..mesh.triangles().len()).map(height);
        let distances = mesh.vertices().iter().map(|p| p.coords.norm());
        Self {
            inner: heights.fold(f64::INFINITY, f64::min),
            outer: distances.fold(0.0, f64::max),
        }
    }

    #[track_caller]
    fn check(self, what: &str, found: f64, of_sphere: fn(f64) -> f64) {
        let (least, most) = (of_sphere(self.inner), of_sphere(self.outer));
        println!("{what}: {least:.6} <= {found:.6} <= {most:.6}");
        assert!(least > 0.0 && (most - least) / most < 2e-4, "a loose bound");
        assert!(least <= found && found <= most, "{what}");
    }
}

/// How far along the common axis the tool's sphere and a bone of this radius meet: where
/// TOOL² − (z − OUT)² = bone² − z².
fn meeting_height(bone: f64) -> f64 {
    (bone * bone - TOOL * TOOL + OUT * OUT) / (2.0 * OUT)
}

/// Volume of the cap of this height of a ball.
fn cap(radius: f64, height: f64) -> f64 {
    PI / 3.0 * height * height * (3.0 * radius - height)
}

/// The tool's cap below the meeting circle, and all bone above it.
fn volume_in_bullet(bone: f64) -> f64 {
    let meeting = meeting_height(bone);
    cap(TOOL, meeting - (OUT - TOOL)) + cap(bone, bone - meeting)
}

/// The same without the bone above the tool's centre.
fn volume_in_half_ball(bone: f64) -> f64 {
    volume_in_bullet(bone) - cap(bone, bone - OUT)
}

/// The tool's cap below the meeting circle: 2π times radius and height.
fn area_in_bone(bone: f64) -> f64 {
    TAU * TOOL * (meeting_height(bone) - (OUT - TOOL))
}

/// A point of the rim at angle θ from its outermost lies |OUT u + TOOL e|² = OUT² + TOOL² +
/// 2 OUT TOOL sin(TILT) cos(θ) from the bone's centre, squared.
fn share_of_tilted_rim(bone: f64) -> f64 {
    let cosine = (bone * bone - OUT * OUT - TOOL * TOOL) / (2.0 * OUT * TOOL * TILT.sin());
    1.0 - cosine.acos() / PI
}
