//! Broken files: a bone that is sound, and what goes wrong with it on its way into a file, one defect a
//! file, made anew each time.

mod damage;

use cupwright_geometry::{TriMesh, samples};
use cupwright_io::{Format, write_to};
use nalgebra::{Isometry3, Point3, Vector3};

/// A broken file.
pub struct Broken {
    /// Its name; the ending tells the format.
    pub name: &'static str,
    /// Its content.
    pub content: Vec<u8>,
    /// What to say when it is read, as arguments.
    pub reading: &'static str,
    /// What `inspect` says of it among other things where that is not said.
    pub unsaid: &'static [&'static str],
    /// What else `mend` has to be asked for.
    pub mending: &'static str,
    /// What `inspect` says of it among other things.
    pub inspected: &'static [&'static str],
    /// The kinds of change that `mend` makes, in order, each once.
    pub changes: &'static [&'static str],
    /// Whether the socket region is changed by mending.
    pub in_socket: bool,
    /// How far what was there moves at most, in mm.
    pub moves: f64,
}

/// A sound bone, and where its socket is.
#[derive(Clone, Debug)]
pub struct Sound {
    /// The bone, in the pelvic frame.
    pub mesh: TriMesh,
    /// Centre of its socket.
    pub centre: Point3<f64>,
    /// Radius of its socket.
    pub radius: f64,
}

type Vertices = Vec<Point3<f64>>;
type Triangles = Vec<[u32; 3]>;

impl Sound {
    /// A file with each defect that can be mended.
    pub fn broken(&self) -> Vec<Broken> {
        let mut all = self.with_holes();
        all.extend(self.with_wrong_triangles());
        all.extend(self.with_wrong_corners());
        all.extend(self.with_pieces());
        all.extend(self.with_other_coordinates());
        all
    }

    fn with_holes(&self) -> Vec<Broken> {
        let wing = self.wing();
        let floor = self.floor();
        let roof = self.nearest(&(self.centre + self.radius * Vector3::new(0.0, 0.1, 0.99)));
        let top = self.top();
        let slit = |_: &mut Vertices, triangles: &mut Triangles| {
            triangles.remove(3000);
            triangles.remove(9000);
        };
        vec![
            Broken {
                inspected: &[
                    "not closed",
                    "closed     NO",
                    "hole       ",
                    "the surface is open",
                ],
                changes: &["hole-closed"],
                ..self.file("two-triangles-missing.ply", self.changed(slit))
            },
            Broken {
                inspected: &["not closed", "from the hip centre"],
                changes: &["hole-closed"],
                ..self.file("small-hole.stl", self.without(|p| (p - wing).norm() < 2.5))
            },
            Broken {
                inspected: &["not closed", "from the hip centre"],
                changes: &["hole-closed"],
                ..self.file("large-hole.obj", self.without(|p| (p - wing).norm() < 5.5))
            },
            Broken {
                inspected: &["not closed", "IN THE SOCKET REGION"],
                changes: &["hole-closed"],
                in_socket: true,
                ..self.file(
                    "hole-in-socket.ply",
                    self.without(|p| (p - floor).norm() < 4.0),
                )
            },
            Broken {
                inspected: &["not closed", "IN THE SOCKET REGION"],
                changes: &["hole-closed"],
                in_socket: true,
                ..self.file(
                    "hole-in-roof.ply",
                    self.without(|p| (p - roof).norm() < 6.0),
                )
            },
            Broken {
                mending: "--close-holes 250",
                inspected: &["not closed", "hole       "],
                changes: &["hole-closed"],
                ..self.file("crest-cut-off.ply", self.without(|p| p.z > top - 1.5))
            },
        ]
    }

    fn with_wrong_triangles(&self) -> Vec<Broken> {
        vec![
            Broken {
                inspected: &["oriented   NO", "face opposite ways"],
                changes: &["turned"],
                in_socket: true,
                ..self.file("some-flipped.ply", self.changed(|_, t| damage::flip(t, 7)))
            },
            Broken {
                inspected: &["oriented   NO", "inside out"],
                changes: &["piece-turned"],
                in_socket: true,
                ..self.file("all-flipped.stl", self.changed(|_, t| damage::flip(t, 1)))
            },
            Broken {
                inspected: &["are there twice", "defect     "],
                changes: &["copies-dropped"],
                ..self.file("copies.ply", self.changed(damage::copies))
            },
            Broken {
                inspected: &["are there twice"],
                changes: &["copies-dropped"],
                ..self.file(
                    "surface-twice.ply",
                    self.changed(|_, t| t.extend(t.clone())),
                )
            },
            Broken {
                inspected: &["slivers", "ready      "],
                changes: &["slivers-dropped"],
                in_socket: true,
                moves: 0.01,
                ..self.file("slivers.ply", self.changed(damage::slivers))
            },
            Broken {
                inspected: &["more than two sheets of surface meet along"],
                changes: &["flaps-dropped"],
                ..self.file("flap.ply", self.changed(damage::flap))
            },
        ]
    }

    fn with_wrong_corners(&self) -> Vec<Broken> {
        vec![
            Broken {
                inspected: &["not closed", "defect     "],
                changes: &["hole-closed", "slivers-dropped"],
                moves: 0.5,
                ..self.file(
                    "corner-on-an-edge.ply",
                    self.changed(damage::corner_on_edge),
                )
            },
            Broken {
                inspected: &["hang together with no other"],
                changes: &["joined"],
                in_socket: true,
                moves: 0.02,
                ..self.file("never-joined.ply", self.loose(0.004))
            },
            Broken {
                mending: "--close-holes 60",
                inspected: &["passes through itself"],
                changes: &["untangled"],
                moves: 40.0,
                ..self.file("spike-through-wing.ply", self.spiked())
            },
        ]
    }

    fn with_pieces(&self) -> Vec<Broken> {
        let mesh = &self.mesh;
        let at = |way: Vector3<f64>| Isometry3::translation(way.x, way.y, way.z);
        let crumbs = [[90.0, 30.0, 90.0], [-40.0, 90.0, 40.0]].map(Vector3::from);
        let crumb = samples::sphere(1.5, 2);
        let crumbs = crumbs.iter().fold(mesh.clone(), |all, way| {
            all.joined(&crumb.moved(&at(self.centre.coords + way)))
        });
        let sacrum = samples::lumpy_ball(38.0, 0.15, 40, 24);
        let beside = at(self.centre.coords + Vector3::new(-130.0, -20.0, 60.0));
        let femur = samples::sphere(self.radius - 3.0, 4);
        let other = mesh.mirrored_x();
        vec![
            Broken {
                inspected: &["with 2 loose bits", "piece 2"],
                changes: &["crumbs-dropped"],
                ..self.file("crumbs.stl", crumbs)
            },
            Broken {
                inspected: &["a loose bit"],
                changes: &["crumbs-dropped"],
                ..self.file("touching-at-a-point.ply", self.changed(damage::touching))
            },
            Broken {
                reading: "--piece right",
                unsaid: &[
                    "a right hemipelvis, with another bone",
                    "2 separate bones",
                    "a bone of its own",
                ],
                inspected: &["a right hemipelvis"],
                changes: &["pieces-dropped"],
                ..self.file("sacrum-too.stl", mesh.joined(&sacrum.moved(&beside)))
            },
            Broken {
                reading: "--piece largest",
                unsaid: &[
                    "with a bone in its socket, as a femur would be",
                    "lies in the socket",
                ],
                inspected: &["a right hemipelvis"],
                changes: &["pieces-dropped"],
                ..self.file(
                    "femur-in-socket.stl",
                    mesh.joined(&femur.moved(&at(self.centre.coords))),
                )
            },
            Broken {
                reading: "--piece right",
                unsaid: &[
                    "a whole pelvis, its hip centres",
                    "mm apart; 282",
                    "the bone with the other socket",
                    "2 separate bones",
                ],
                inspected: &["a right hemipelvis"],
                changes: &["pieces-dropped"],
                ..self.file("both-sides.ply", other.joined(mesh))
            },
        ]
    }

    fn with_other_coordinates(&self) -> Vec<Broken> {
        let turned = self
            .mesh
            .vertices()
            .iter()
            .map(|p| Point3::new(-p.x, -p.y, p.z));
        let lps = mesh_of(turned.collect(), self.mesh.triangles().to_vec());
        let in_unit = |name, factor: f64, reading, unsaid| Broken {
            reading,
            unsaid,
            inspected: &["closed all round", "ready      "],
            ..self.file(name, self.mesh.scaled(1.0 / factor))
        };
        vec![
            in_unit(
                "metres.ply",
                1000.0,
                "--unit m",
                &["would be a bone of the hip in metres", "would be in metres"],
            ),
            in_unit(
                "centimetres.stl",
                10.0,
                "--unit cm",
                &["would be in centimetres"],
            ),
            in_unit("inches.obj", 25.4, "--unit in", &["would be in inches"]),
            Broken {
                reading: "--axes lps",
                unsaid: &["a right hemipelvis", "the axes look like LPS"],
                inspected: &["a right hemipelvis", "ready      "],
                ..self.file("lps.ply", lps)
            },
        ]
    }

    /// Files that cannot be read as a mesh at all, and what is said of them.
    pub fn unreadable(&self) -> Vec<(&'static str, Vec<u8>, &'static str)> {
        let whole = bytes(&self.mesh, Format::StlBinary);
        let mut nan = whole.clone();
        nan[84 + 500 * 50 + 12..][..4].copy_from_slice(&f32::NAN.to_le_bytes());
        let mut other = b"solid bone ".to_vec();
        other.extend_from_slice(&whole[11..whole.len() / 2]);
        vec![
            (
                "cut-short.stl",
                whole[..whole.len() - 1000].to_vec(),
                "it was cut short",
            ),
            ("half-and-named-solid.stl", other, "cut short"),
            (
                "not-a-number.stl",
                nan,
                "triangle 500 (counting from 0), first corner: x is NaN",
            ),
            ("empty.ply", Vec::new(), "the file is empty"),
        ]
    }

    /// A file of `mesh` with nothing said of it yet.
    fn file(&self, name: &'static str, mesh: TriMesh) -> Broken {
        let format = match Format::for_path(name.as_ref()) {
            Ok(format) => format,
            Err(problem) => panic!("a fixture's name: {problem}"),
        };
        Broken {
            name,
            content: bytes(&mesh, format),
            reading: "",
            unsaid: &[],
            mending: "",
            inspected: &[],
            changes: &[],
            in_socket: false,
            moves: 1e-5,
        }
    }

    fn changed(&self, change: impl FnOnce(&mut Vertices, &mut Triangles)) -> TriMesh {
        let mut vertices = self.mesh.vertices().to_vec();
        let mut triangles = self.mesh.triangles().to_vec();
        change(&mut vertices, &mut triangles);
        mesh_of(vertices, triangles)
    }

    /// Without the triangles that have a corner where `gone` holds.
    fn without(&self, gone: impl Fn(&Point3<f64>) -> bool) -> TriMesh {
        self.changed(|vertices, triangles| {
            triangles.retain(|t| !t.iter().any(|&v| gone(&vertices[v as usize])));
        })
    }

    /// A corner in the middle of the wing's outer side.
    fn wing(&self) -> Point3<f64> {
        let wanted = self.centre + Vector3::new(15.0, -20.0, 85.0);
        self.nearest(&wanted)
    }

    /// A corner at the bottom of the socket.
    fn floor(&self) -> Point3<f64> {
        self.nearest(&(self.centre - self.radius * Vector3::new(0.8, 0.2, -0.55)))
    }

    fn top(&self) -> f64 {
        self.mesh
            .vertices()
            .iter()
            .map(|p| p.z)
            .fold(f64::MIN, f64::max)
    }

    fn nearest(&self, to: &Point3<f64>) -> Point3<f64> {
        let far = |p: &&Point3<f64>| (*p - to).norm();
        let all = self.mesh.vertices().iter();
        all.min_by(|a, b| far(a).total_cmp(&far(b)))
            .copied()
            .unwrap_or(*to)
    }

    /// One corner of the wing pushed through it and out on the other side.
    fn spiked(&self) -> TriMesh {
        let wing = self.wing();
        self.changed(|vertices, triangles| {
            let around = triangles
                .iter()
                .filter(|t| t.iter().any(|&v| vertices[v as usize] == wing));
            let outward: Vector3<f64> = around
                .map(|t| {
                    let [a, b, c] = t.map(|v| vertices[v as usize]);
                    (b - a).cross(&(c - a))
                })
                .sum();
            for p in vertices.iter_mut().filter(|p| **p == wing) {
                *p -= 30.0 * outward.normalize();
            }
        })
    }

    /// Every triangle with corners of its own, each up to `by` mm off.
    fn loose(&self, by: f64) -> TriMesh {
        let all = 0..self.mesh.triangles().len();
        let corners = all.flat_map(|t| self.mesh.corners(t));
        let shaken = (0_u32..).zip(corners).map(|(i, p)| {
            let wave = |k: f64| by * (k * f64::from(i)).sin();
            p + Vector3::new(wave(12.9898), wave(78.233), wave(37.719))
        });
        let vertices: Vec<_> = shaken.collect();
        let count = u32::try_from(vertices.len() / 3).unwrap_or(0);
        let triangles = (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]);
        mesh_of(vertices, triangles.collect())
    }
}

fn mesh_of(vertices: Vertices, triangles: Triangles) -> TriMesh {
    match TriMesh::new(vertices, triangles) {
        Ok(mesh) => mesh,
        Err(problem) => panic!("a broken fixture must still be a mesh: {problem}"),
    }
}

fn bytes(mesh: &TriMesh, format: Format) -> Vec<u8> {
    let mut file = Vec::new();
    match write_to(&mut file, mesh, format) {
        Ok(()) => file,
        Err(problem) => panic!("a fixture must be writable: {problem}"),
    }
}
