//! What the benches share: bones of four sizes, the tools that work on them, short runs.
//!
//! Every id reads `MEASURE/WHO/SIZE`: `WHO` is `ours`, `ours-meshed` where the result is drawn as a
//! mesh rather than measured, or the library that does the same work; `SIZE` is the number of
//! triangles, about.

use std::path::Path;
use std::sync::LazyLock;
use std::time::Duration;

use criterion::{BenchmarkGroup, BenchmarkId, Criterion, SamplingMode, measurement::WallTime};
use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{Preset, Resolution, pelvis};
use cupwright_geometry::batch::Placement;
use cupwright_geometry::cut::{Cut, Tolerance};
use cupwright_geometry::{Bullet, Hemisphere, Solid};
use cupwright_procedure::{self as procedure, Case, CaseFile};
use cupwright_tests::bones;
use cupwright_tests::boolean::FacetedTool;
use nalgebra::{Point3, Vector3};

/// Facets around a tool of the mesh boolean.
const SEGMENTS: u32 = 128;

/// How far the facets of such a tool stand off the true one, in mm: 12.5 (1 − cos(π / 128)).
const CHORD: f64 = 0.0038;

/// Length of a tool's column in mm: beyond the bone from every tool's place.
const COLUMN: f64 = 60.0;

/// A bone and how many triangles its id says that it has.
pub struct Bone {
    /// The number of triangles, rounded.
    pub size: &'static str,
    /// The bone.
    pub solid: Solid,
}

static BONES: LazyLock<[Bone; 4]> = LazyLock::new(|| {
    let sizes = [
        ("10k", 10_000),
        ("40k", 40_000),
        ("150k", 150_000),
        ("600k", 600_000),
    ];
    sizes.map(|(size, triangles)| Bone {
        size,
        solid: bones::lumpy(triangles),
    })
});

/// The same lumpy ball of 25 mm radius in four resolutions, made once for each bench file.
pub fn bones() -> &'static [Bone] {
    &*BONES
}

/// The average man's bone without its layers, about as fine as it comes and with 150,000 triangles.
pub fn average_man() -> [(&'static str, procedure::Bone); 2] {
    let bone = procedure::Bone::of_case(&case("(diameter_mm: 53)"), Path::new(""))
        .expect("the preset's bone");
    let mesh = bone.solid.mesh().parted(150_000);
    let solid = Solid::try_from(mesh).expect("a solid stays one");
    let fine = procedure::Bone {
        solid: solid.into(),
        ..bone.clone()
    };
    [("120k", bone), ("150k", fine)]
}

/// One step of a plan: the [`cup`], and before it the [`reamer`] with its column open.
pub fn step() -> Placement {
    Placement {
        cup: cup(),
        reamers: vec![Bullet::open(*reamer().head())],
    }
}

/// The average man's hemipelvis at one resolution, and where his socket is.
pub struct Man {
    /// The number of triangles, rounded.
    pub size: &'static str,
    /// The bone.
    pub solid: Solid,
    centre: Point3<f64>,
    axis: Vector3<f64>,
}

impl Man {
    /// A cup of 54 mm, 3 mm medially of the socket's own centre or so, its axis turned by two small angles,
    /// and a reamer of 53 mm about the same centre and axis.
    pub fn placed(&self, first: f64, second: f64) -> Placement {
        self.at(Vector3::zeros(), first, second)
    }

    /// The same, its centre and axis off by some of a scatter of 3 mm and 10 degrees.
    pub fn scattered(&self, number: u32) -> Placement {
        let part = |step: f64| 2.0 * (f64::from(number) * step).fract() - 1.0;
        // Multiples of powers of the plastic number fill a box evenly.
        let off = Vector3::new(part(0.8567), part(0.7338), part(0.6287)) * 3.0;
        self.at(off, 0.17 * part(0.5386), 0.17 * part(0.4614))
    }

    fn at(&self, off: Vector3<f64>, first: f64, second: f64) -> Placement {
        let across = self.axis.cross(&Vector3::z()).normalize();
        let [first, second] = [across * first, self.axis.cross(&across) * second];
        let axis = self.axis + first + second;
        let centre = self.centre - 3.0 * self.axis + off;
        let tool = |diameter: f64| Hemisphere::new(centre, axis, diameter / 2.0).expect("a tool");
        Placement {
            cup: tool(54.0),
            reamers: vec![Bullet::open(tool(53.0))],
        }
    }
}

/// The average man's bone as it comes in three resolutions, some of its triangles parted to give round
/// numbers.
pub fn man() -> Vec<Man> {
    let sizes = [
        (Resolution::Coarse, "40k", 37_000),
        (Resolution::Middle, "150k", 150_000),
        (Resolution::Fine, "600k", 600_000),
    ];
    let of_size = |(resolution, size, triangles)| {
        let shape = Preset::AverageMale.shape().expect("a preset");
        let pelvis = pelvis(&shape, Side::Right, resolution).expect("a preset is a pelvis");
        Man {
            size,
            solid: Solid::try_from(pelvis.mesh.parted(triangles)).expect("a solid stays one"),
            centre: pelvis.socket.centre,
            axis: pelvis.socket.axis,
        }
    };
    sizes.map(of_size).into()
}

/// The demonstration's cup on the average man's bone, with these reamers.
pub fn case(reamers: &str) -> Case {
    case_file(reamers).check().expect("a case that can be")
}

/// The same as typed.
pub fn case_file(reamers: &str) -> CaseFile {
    let text = format!(
        "(version: 1, bone: Preset(name: \"average-male\", side: Right), orientation: Radiographic, \
         reamers: [{reamers}], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15, \
         centre: (medial_mm: 3, superior_mm: 1)))"
    );
    CaseFile::parse(&text).expect("a case")
}

/// Few samples and short times: the values spread more than the clock does.
pub fn settings() -> Criterion {
    Criterion::default()
        .sample_size(10)
        .warm_up_time(Duration::from_millis(200))
        .measurement_time(Duration::from_millis(800))
}

/// A group whose ids are `MEASURE/WHO/SIZE`.
pub fn group<'c>(criterion: &'c mut Criterion, measure: &str) -> BenchmarkGroup<'c, WallTime> {
    let mut group = criterion.benchmark_group(measure);
    group.sampling_mode(SamplingMode::Flat);
    group
}

/// Benches our `measure` of each bone.
pub fn ours<T>(group: &mut BenchmarkGroup<'_, WallTime>, measure: impl Fn(&Solid) -> T) {
    of_each_bone(group, "ours", measure);
}

/// Benches the bone without what the reamers take, as a mesh whose walls are as fine as the mesh
/// boolean's tool.
pub fn ours_meshed(group: &mut BenchmarkGroup<'_, WallTime>, reamers: &[Bullet]) {
    let tolerance = Tolerance::new(CHORD).expect("a chord tolerance");
    of_each_bone(group, "ours-meshed", |solid| {
        Cut::new(solid, reamers, tolerance).expect("the cut can be drawn")
    });
}

fn of_each_bone<T>(
    group: &mut BenchmarkGroup<'_, WallTime>,
    who: &str,
    measure: impl Fn(&Solid) -> T,
) {
    for bone in bones() {
        group.bench_function(BenchmarkId::new(who, bone.size), |bencher| {
            bencher.iter(|| measure(&bone.solid));
        });
    }
}

/// Half a ball across the surface, its axis pointing out of the bone, as a cup lies in a socket.
pub fn cup() -> Hemisphere {
    head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 26.0)
}

/// A reamer that is a little smaller than the [`cup`], in the same place.
pub fn reamer() -> Bullet {
    bullet(head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 25.0))
}

/// Two reamers of which the second has swept all that the first has.
pub fn nested_reamers() -> [Bullet; 2] {
    let first = bullet(head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 22.0));
    [first, reamer()]
}

/// Three reamers of rising size, each a little deeper than the one before.
pub fn reamers_so_far() -> [Bullet; 3] {
    [21.0, 22.0, 23.0].map(rising)
}

/// The reamer after [`reamers_so_far`].
pub fn next_reamer() -> Bullet {
    rising(24.0)
}

fn rising(diameter: f64) -> Bullet {
    let out = 0.5 * (26.0 - diameter);
    let centre = [14.0 + 0.6 * out, -6.0 - 0.2 * out, 12.0 + 0.9 * out];
    bullet(head(centre, [0.6, -0.2, 0.9], diameter))
}

/// Two reamers of which each sweeps something that the other does not.
pub fn crossing_reamers() -> [Bullet; 2] {
    [
        bullet(head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 22.0)),
        bullet(head([15.5, -5.0, 13.0], [0.7, -0.1, 0.8], 24.0)),
    ]
}

/// A reamer as the mesh boolean wants it.
pub fn faceted(reamer: &Bullet) -> FacetedTool {
    FacetedTool::bullet(reamer, SEGMENTS)
}

fn head(centre: [f64; 3], axis: [f64; 3], diameter: f64) -> Hemisphere {
    Hemisphere::new(centre.into(), axis.into(), diameter / 2.0).expect("a tool")
}

fn bullet(head: Hemisphere) -> Bullet {
    Bullet::with_column(head, COLUMN).expect("a column")
}
