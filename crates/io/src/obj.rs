//! OBJ: text with vertices (`v`) and faces (`f`).
//!
//! Face corners may be `7`, `7/2`, `7//3` or `7/2/3`, and negative numbers count back from the latest
//! vertex; textures and normals are passed over, as are groups, materials, lines and points, so that
//! all objects in the file become one mesh. A face with more than three corners is cut into
//! triangles that fan out from its first corner, which is right for convex faces; the cut is told as
//! a remark. Curved surfaces and references to other files are refused. Vertices that lie in the
//! same place stay separate, as the file has them.

use std::io::{BufRead, BufReader, BufWriter, Read, Write};

use cupwright_geometry::{BadMesh, TriMesh};
use nalgebra::Point3;
use thiserror::Error;

use crate::format::Format;
use crate::loaded::{Loaded, Remark};
use crate::stream::WriteError;
use crate::text::{self, BadLine, Words, quoted};

/// Statements that change nothing about the triangles.
const PASSED_OVER: &[&[u8]] = &[
    b"vt",
    b"vn",
    b"vp",
    b"p",
    b"l",
    b"g",
    b"s",
    b"mg",
    b"o",
    b"usemtl",
    b"mtllib",
    b"usemap",
    b"maplib",
    b"bevel",
    b"c_interp",
    b"d_interp",
    b"lod",
    b"shadow_obj",
    b"trace_obj",
];

/// Statements that would add surface or read other files.
const REFUSED: &[&[u8]] = &[
    b"cstype", b"deg", b"bmat", b"step", b"parm", b"curv", b"curv2", b"surf", b"trim", b"hole",
    b"scrv", b"sp", b"end", b"con", b"ctech", b"stech", b"call", b"csh",
];

/// Why an OBJ file cannot be read. Lines count from 1.
#[derive(Debug, Error)]
pub enum BadObj {
    /// A line begins with a word that OBJ does not know.
    #[error("line {line}: {found} is no OBJ statement; remove the line, or export the file again")]
    UnknownStatement {
        /// The line.
        line: u64,
        /// Its first word.
        found: String,
    },
    /// A line describes a curved surface or refers to another file.
    #[error("line {line}: {found} describes more than flat faces; export the surface as triangles")]
    NotFlat {
        /// The line.
        line: u64,
        /// Its first word.
        found: String,
    },
    /// A vertex has fewer than three coordinates.
    #[error(
        "line {line}: vertex {vertex} has {count} coordinates where three are needed; correct the line, or export the file again"
    )]
    TooFewCoordinates {
        /// The line.
        line: u64,
        /// The vertex, counting from 1 as faces do.
        vertex: usize,
        /// How many coordinates there are.
        count: usize,
    },
    /// A word stands where a coordinate should.
    #[error(
        "line {line}: vertex {vertex}: {found} is no number; write numbers like -12.5 or 1e-3, or export the file again"
    )]
    NotANumber {
        /// The line.
        line: u64,
        /// The vertex, counting from 1 as faces do.
        vertex: usize,
        /// The word.
        found: String,
    },
    /// A coordinate is NaN or infinite.
    #[error(
        "line {line}: vertex {vertex} has the coordinate {value}, not a finite number; repair the mesh where it was made and export it again"
    )]
    NotFinite {
        /// The line.
        line: u64,
        /// The vertex, counting from 1 as faces do.
        vertex: usize,
        /// The coordinate.
        value: f64,
    },
    /// A word stands where a face's corner should.
    #[error(
        "line {line}: {found} names no vertex; write corners like 7, 7/2 or 7//3, or export the file again"
    )]
    NotACorner {
        /// The line.
        line: u64,
        /// The word.
        found: String,
    },
    /// A face names vertex 0.
    #[error(
        "line {line}: a face names vertex 0, but OBJ counts from 1; add 1 to every index, or export the file again"
    )]
    IndexZero {
        /// The line.
        line: u64,
    },
    /// A face names a vertex that does not exist.
    #[error(
        "line {line}: a face names vertex {index}, but there are {vertices}; correct the line, or export the file again"
    )]
    IndexOutOfRange {
        /// The line.
        line: u64,
        /// The index as it stands there.
        index: i64,
        /// How many vertices the file has; before this line, where the index counts back.
        vertices: usize,
    },
    /// A face has fewer than three corners.
    #[error(
        "line {line}: a face has {corners} corners where three are needed; correct the line, or export the file again"
    )]
    TooFewCorners {
        /// The line.
        line: u64,
        /// How many corners it has.
        corners: usize,
    },
    /// There are no faces.
    #[error(
        "the file holds {vertices} vertices but no faces; export the surface, not points or lines"
    )]
    NoFaces {
        /// How many vertices there are.
        vertices: usize,
    },
    /// The mesh is too large.
    #[error("{0}; thin it out or cut it")]
    Mesh(BadMesh),
    /// A line cannot be had.
    #[error(transparent)]
    Line(#[from] BadLine),
}

/// Whether `word` begins a statement of OBJ.
pub(crate) fn is_statement(word: &[u8]) -> bool {
    word == b"v" || word == b"f" || PASSED_OVER.contains(&word) || REFUSED.contains(&word)
}

/// Reads an OBJ file.
///
/// # Errors
/// When a line is no statement of OBJ or describes more than flat faces, a coordinate is no finite
/// number, a face has fewer than three corners or names a vertex that does not exist, or there is
/// no face.
pub fn read(input: impl Read) -> Result<Loaded, BadObj> {
    let mut file = ObjFile {
        words: Words::new(BufReader::with_capacity(1 << 16, input)),
        vertices: Vec::new(),
        triangles: Vec::new(),
        polygons: 0,
        highest: None,
    };
    while file.words.next_line()? {
        file.join_continued_lines()?;
        file.statement()?;
    }
    file.finished()
}

struct ObjFile<R> {
    words: Words<R>,
    vertices: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    polygons: usize,
    /// The largest index named before its vertex, counting from 0, and its line.
    highest: Option<(u32, u64)>,
}

impl<R: BufRead> ObjFile<R> {
    /// A backslash at a line's end joins the next line to it.
    fn join_continued_lines(&mut self) -> Result<(), BadObj> {
        while self.words.cut_backslash() && self.words.append_line()? {}
        Ok(())
    }

    /// Takes the current line.
    fn statement(&mut self) -> Result<(), BadObj> {
        let line = self.words.line_number();
        match self.words.next_on_line() {
            None => Ok(()),
            Some(word) if word.starts_with(b"#") => Ok(()),
            Some(b"v") => self.vertex(line),
            Some(b"f") => self.face(line),
            Some(word) if PASSED_OVER.contains(&word) => Ok(()),
            Some(word) => {
                let found = quoted(word);
                Err(if REFUSED.contains(&word) {
                    BadObj::NotFlat { line, found }
                } else {
                    BadObj::UnknownStatement { line, found }
                })
            }
        }
    }

    /// The rest of a `v` line. A weight or a colour may follow the coordinates.
    fn vertex(&mut self, line: u64) -> Result<(), BadObj> {
        let vertex = self.vertices.len() + 1;
        let mut place = Point3::origin();
        for count in 0..3 {
            let word = self.words.next_on_line();
            let word = word.ok_or(BadObj::TooFewCoordinates {
                line,
                vertex,
                count,
            })?;
            let value = text::number(word).ok_or_else(|| BadObj::NotANumber {
                line,
                vertex,
                found: quoted(word),
            })?;
            if !value.is_finite() {
                return Err(BadObj::NotFinite {
                    line,
                    vertex,
                    value,
                });
            }
            place[count] = value;
        }
        self.vertices.push(place);
        Ok(())
    }

    /// The rest of an `f` line, as a fan of triangles.
    fn face(&mut self, line: u64) -> Result<(), BadObj> {
        let mut fan = Fan::default();
        while let Some(word) = self.words.next_on_line() {
            let digits = word.split(|&b| b == b'/').next().unwrap_or_default();
            let index = text::whole(digits).ok_or_else(|| BadObj::NotACorner {
                line,
                found: quoted(word),
            })?;
            let corner = self.corner(index, line)?;
            self.triangles.extend(fan.add(corner));
        }
        let corners = fan.corners();
        if corners < 3 {
            return Err(BadObj::TooFewCorners { line, corners });
        }
        self.polygons += usize::from(corners > 3);
        Ok(())
    }

    /// The vertex that `index` names on `line`, counting from 0.
    fn corner(&mut self, index: i64, line: u64) -> Result<u32, BadObj> {
        let vertices = self.vertices.len();
        let known = i64::try_from(vertices).unwrap_or(i64::MAX);
        let from_zero = match index {
            0 => return Err(BadObj::IndexZero { line }),
            1.. => index - 1,
            _ => known.saturating_add(index),
        };
        let corner = u32::try_from(from_zero).map_err(|_| BadObj::IndexOutOfRange {
            line,
            index,
            vertices,
        })?;
        let highest = self.highest.map_or(0, |(corner, _)| corner);
        if from_zero >= known && (corner > highest || self.highest.is_none()) {
            self.highest = Some((corner, line));
        }
        Ok(corner)
    }

    fn finished(self) -> Result<Loaded, BadObj> {
        let vertices = self.vertices.len();
        if let Some((corner, line)) = self.highest
            && corner as usize >= vertices
        {
            return Err(BadObj::IndexOutOfRange {
                line,
                index: i64::from(corner) + 1,
                vertices,
            });
        }
        let mesh = TriMesh::new(self.vertices, self.triangles).map_err(|bad| match bad {
            BadMesh::Empty => BadObj::NoFaces { vertices },
            other => BadObj::Mesh(other),
        })?;
        let mut remarks = Vec::new();
        if self.polygons > 0 {
            remarks.push(Remark::PolygonsSplit {
                polygons: self.polygons,
            });
        }
        Ok(Loaded {
            mesh,
            format: Format::Obj.into(),
            welding: None,
            remarks,
        })
    }
}

/// Cuts a polygon into triangles as its corners come, all from the first.
#[derive(Default)]
pub(crate) struct Fan {
    first: u32,
    latest: u32,
    corners: usize,
}

impl Fan {
    /// The triangle that the next corner completes, if any.
    pub(crate) fn add(&mut self, corner: u32) -> Option<[u32; 3]> {
        let triangle = (self.corners >= 2).then_some([self.first, self.latest, corner]);
        if self.corners == 0 {
            self.first = corner;
        }
        self.latest = corner;
        self.corners += 1;
        triangle
    }

    /// Corners so far.
    pub(crate) fn corners(&self) -> usize {
        self.corners
    }
}

/// Writes `mesh` as OBJ, each coordinate with as many digits as tell it from every other `f64`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    let mut out = BufWriter::new(out);
    writeln!(out, "# lengths in millimetres")?;
    for p in mesh.vertices() {
        writeln!(out, "v {:?} {:?} {:?}", p.x, p.y, p.z)?;
    }
    for [a, b, c] in mesh.triangles().iter().map(|t| t.map(|i| u64::from(i) + 1)) {
        writeln!(out, "f {a} {b} {c}")?;
    }
    out.flush()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    const SQUARE: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n";

    #[track_caller]
    fn triangles(faces: &str) -> Vec<[u32; 3]> {
        let loaded = read(format!("{SQUARE}{faces}").as_bytes()).unwrap();
        loaded.mesh.triangles().to_vec()
    }

    #[track_caller]
    fn refused(lines: &str, message: &str) {
        let refused = read(format!("{SQUARE}{lines}").as_bytes()).unwrap_err();
        assert_eq!(refused.to_string(), message);
    }

    #[test]
    fn a_round_trip_keeps_every_bit_and_index() {
        let mesh = samples::lumpy_ball(24.7, 0.2, 20, 15)
            .moved(&nalgebra::Isometry3::translation(1e-9, 3e8, 0.1));
        let mut file = Vec::new();
        write(&mut file, &mesh).unwrap();
        let loaded = read(file.as_slice()).unwrap();
        assert_eq!(loaded.mesh, mesh);
        assert_eq!((loaded.format, loaded.welding), (Format::Obj.into(), None));
    }

    #[test]
    fn corners_may_carry_textures_and_normals() {
        assert_eq!(
            triangles("f 1/1 2/2 3/3\nf 1//1 3//1 4//1\nf 1/2/3 2/3/4 3/4/5"),
            [[0, 1, 2], [0, 2, 3], [0, 1, 2]]
        );
    }

    #[test]
    fn negative_indices_count_back_from_the_latest_vertex() {
        assert_eq!(
            triangles("f -4 -3 -2\nv 9 9 9\nf -1 -3 -2"),
            [[0, 1, 2], [4, 2, 3]]
        );
    }

    #[test]
    fn polygons_fan_out_from_their_first_corner_and_that_is_told() {
        let file = format!("{SQUARE}f 2 3 4 1\nf 1 2 3\n");
        let loaded = read(file.as_bytes()).unwrap();
        assert_eq!(loaded.mesh.triangles(), [[1, 2, 3], [1, 3, 0], [0, 1, 2]]);
        assert_eq!(loaded.remarks, [Remark::PolygonsSplit { polygons: 1 }]);
    }

    #[test]
    fn a_face_may_come_before_its_vertices() {
        let file = format!("f 1 2 3\n{SQUARE}");
        assert_eq!(read(file.as_bytes()).unwrap().mesh.triangles(), [[0, 1, 2]]);
    }

    #[test]
    fn comments_groups_materials_colours_and_continued_lines_are_understood() {
        assert_eq!(
            triangles(
                "# x\n#y\n\no bone\ng left\nusemtl white\nvn 0 0 1\nv 5 5 5 1 0.5 0.5\ns off\nl 1 2\nf 1 2 \\\n 5\r\n"
            ),
            [[0, 1, 4]]
        );
    }

    #[test]
    fn index_zero_is_refused() {
        refused(
            "f 1 2 3\nf 0 1 2\n",
            "line 6: a face names vertex 0, but OBJ counts from 1; add 1 to every index, or export the file again",
        );
    }

    #[test]
    fn indices_out_of_range_are_refused_with_their_line() {
        refused(
            "f 1 2 3\nf 1 2 5\nf 2 3 4\n",
            "line 6: a face names vertex 5, but there are 4; correct the line, or export the file again",
        );
        refused(
            "f 1 2 -5\n",
            "line 5: a face names vertex -5, but there are 4; correct the line, or export the file again",
        );
        refused(
            "f 1 2 99999999999\n",
            "line 5: a face names vertex 99999999999, but there are 4; correct the line, or export the file again",
        );
        let first = read(&b"f 1 1 1\n"[..]).unwrap_err();
        assert!(matches!(
            first,
            BadObj::IndexOutOfRange {
                line: 1,
                index: 1,
                vertices: 0
            }
        ));
    }

    #[test]
    fn bad_numbers_are_refused_with_their_line() {
        refused(
            "v 1 2 3,5\n",
            "line 5: vertex 5: '3,5' is no number; write numbers like -12.5 or 1e-3, or export the file again",
        );
        refused(
            "v 1 2\n",
            "line 5: vertex 5 has 2 coordinates where three are needed; correct the line, or export the file again",
        );
        refused(
            "\nv 1 inf 2\n",
            "line 6: vertex 5 has the coordinate inf, not a finite number; repair the mesh where it was made and export it again",
        );
        refused(
            "f 1 2 x/3\n",
            "line 5: 'x/3' names no vertex; write corners like 7, 7/2 or 7//3, or export the file again",
        );
    }

    #[test]
    fn faces_with_fewer_than_three_corners_are_refused() {
        refused(
            "f 1 2\n",
            "line 5: a face has 2 corners where three are needed; correct the line, or export the file again",
        );
    }

    #[test]
    fn points_without_faces_are_refused() {
        refused(
            "l 1 2\n",
            "the file holds 4 vertices but no faces; export the surface, not points or lines",
        );
    }

    #[test]
    fn curved_surfaces_and_strange_lines_are_refused() {
        refused(
            "f 1 2 3\nsurf 0 1 0 1 1 2 3 4\n",
            "line 6: 'surf' describes more than flat faces; export the surface as triangles",
        );
        refused(
            "Dear reader\n",
            "line 5: 'Dear' is no OBJ statement; remove the line, or export the file again",
        );
    }
}
