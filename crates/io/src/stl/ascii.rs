//! STL as text.

use std::io::{BufRead, BufReader, BufWriter, Read, Write};

use cupwright_geometry::TriMesh;
use nalgebra::Point3;

use super::binary::normal;
use super::{BadStl, finished};
use crate::format::Format;
use crate::loaded::{Loaded, Place};
use crate::stream::WriteError;
use crate::text::{self, Words, quoted};
use crate::weld::Welder;

/// Reads an ASCII STL file.
///
/// Key words may be in any case and stand on any line; coordinates keep all their digits. Several
/// solids become one mesh, with a remark.
///
/// # Errors
/// When a word is not where it should be, a coordinate is no finite number, the file ends before
/// `endsolid`, or no triangle with three different corners is in it.
pub fn read_ascii(input: impl Read) -> Result<Loaded, BadStl> {
    let mut file = AsciiStl {
        words: Words::new(BufReader::with_capacity(1 << 16, input)),
        welder: Welder::exact(),
    };
    let mut solids = 0;
    while file.words.reach_word()? || solids == 0 {
        file.expect("solid", "`solid`")?;
        file.words.skip_line();
        file.facets()?;
        file.words.skip_line();
        solids += 1;
    }
    finished(file.welder, Format::StlAscii, solids)
}

struct AsciiStl<R> {
    words: Words<R>,
    welder: Welder,
}

impl<R: BufRead> AsciiStl<R> {
    /// All facets of a solid, and its `endsolid`.
    fn facets(&mut self) -> Result<(), BadStl> {
        const EXPECTED: &str = "`facet` or `endsolid`";
        loop {
            let word = self.word(EXPECTED)?;
            if word.eq_ignore_ascii_case(b"endsolid") {
                return Ok(());
            }
            if !word.eq_ignore_ascii_case(b"facet") {
                let found = quoted(word);
                return Err(self.unexpected(EXPECTED, found));
            }
            self.facet()?;
        }
    }

    /// The rest of a facet.
    fn facet(&mut self) -> Result<(), BadStl> {
        self.expect("normal", "`normal`")?;
        for _ in 0..3 {
            self.word("a number of the normal")?;
        }
        self.expect("outer", "`outer loop`")?;
        self.expect("loop", "`outer loop`")?;
        let mut corners = [Point3::origin(); 3];
        for (i, corner) in corners.iter_mut().enumerate() {
            self.expect("vertex", "`vertex`")?;
            for axis in 0..3 {
                corner[axis] = self.coordinate(i, axis)?;
            }
        }
        self.expect("endloop", "`endloop` after three corners")?;
        self.expect("endfacet", "`endfacet`")?;
        self.welder.add(corners);
        Ok(())
    }

    /// A coordinate, which must be finite.
    fn coordinate(&mut self, corner: usize, axis: usize) -> Result<f64, BadStl> {
        let word = self.word("a coordinate")?;
        let number = text::number(word).ok_or_else(|| quoted(word));
        let line = self.words.line_number();
        let triangle = self.welder.triangles_seen();
        let value = number.map_err(|found| BadStl::NotANumber {
            line,
            triangle,
            corner,
            found,
        })?;
        if !value.is_finite() {
            return Err(BadStl::NotFinite {
                place: Place::Line(line),
                triangle,
                corner,
                axis,
                value,
            });
        }
        Ok(value)
    }

    /// Takes the key word `word`.
    fn expect(&mut self, word: &str, expected: &'static str) -> Result<(), BadStl> {
        let found = self.word(expected)?;
        if found.eq_ignore_ascii_case(word.as_bytes()) {
            return Ok(());
        }
        let found = quoted(found);
        Err(self.unexpected(expected, found))
    }

    fn unexpected(&self, expected: &'static str, found: String) -> BadStl {
        BadStl::Unexpected {
            line: self.words.line_number(),
            expected,
            found,
        }
    }

    /// The next word, whatever it is.
    fn word(&mut self, expected: &'static str) -> Result<&[u8], BadStl> {
        if !self.words.reach_word()? {
            return Err(BadStl::EndsEarly {
                line: self.words.line_number(),
                triangles: self.welder.triangles_seen(),
                expected,
            });
        }
        Ok(self.words.next_on_line().unwrap_or_default())
    }
}

/// Writes `mesh` as ASCII STL, each coordinate with as many digits as tell it from every other
/// `f64`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_ascii(out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    let mut out = BufWriter::new(out);
    writeln!(out, "solid mesh")?;
    for triangle in 0..mesh.triangles().len() {
        let [x, y, z] = normal(mesh, triangle);
        writeln!(out, "facet normal {x:?} {y:?} {z:?}\nouter loop")?;
        for p in mesh.corners(triangle) {
            writeln!(out, "vertex {:?} {:?} {:?}", p.x, p.y, p.z)?;
        }
        writeln!(out, "endloop\nendfacet")?;
    }
    writeln!(out, "endsolid mesh")?;
    out.flush()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loaded::Remark;
    use cupwright_geometry::samples;

    const TRIANGLE: &str = "solid a name with spaces\n facet normal 0 0 1\n  outer loop\n   vertex 0 0 0\n   vertex 1 0 0\n   vertex 0 1 0\n  endloop\n endfacet\nendsolid a name\n";

    fn file_of(mesh: &TriMesh) -> Vec<u8> {
        let mut file = Vec::new();
        write_ascii(&mut file, mesh).unwrap();
        file
    }

    #[track_caller]
    fn refused(text: &str, message: &str) {
        let refused = read_ascii(text.as_bytes()).unwrap_err();
        assert_eq!(refused.to_string(), message);
    }

    /// Refuses [`TRIANGLE`] once `from` is replaced.
    #[track_caller]
    fn refused_with(from: &str, to: &str, message: &str) {
        assert!(TRIANGLE.contains(from));
        refused(&TRIANGLE.replacen(from, to, 1), message);
    }

    #[test]
    fn a_round_trip_keeps_every_bit_of_an_f64() {
        let mesh = samples::lumpy_ball(24.7, 0.2, 20, 15);
        let loaded = read_ascii(file_of(&mesh).as_slice()).unwrap();
        assert_eq!(loaded.mesh.vertices().len(), mesh.vertices().len());
        for t in 0..mesh.triangles().len() {
            assert_eq!(loaded.mesh.corners(t), mesh.corners(t));
        }
        assert_eq!(loaded.remarks, []);
    }

    #[test]
    fn an_independent_reader_sees_the_same_triangles() {
        let mesh = samples::cuboid([1.0, 2.0, 3.0]);
        let read = stl_io::read_stl(&mut std::io::Cursor::new(file_of(&mesh))).unwrap();
        for (t, face) in read.faces.iter().enumerate() {
            let corners = face.vertices.map(|v| read.vertices[v].0.map(f64::from));
            let expected: [[f64; 3]; 3] = mesh.corners(t).map(|p| p.coords.into());
            assert_eq!(corners, expected);
        }
        assert_eq!(read.faces.len(), 12);
    }

    #[test]
    fn case_line_ends_and_layout_do_not_matter() {
        let expected = read_ascii(TRIANGLE.as_bytes()).unwrap().mesh;
        let capitals = TRIANGLE.to_uppercase().replace('\n', "\r\n\r\n");
        let (name, facets) = TRIANGLE.split_once('\n').unwrap();
        let one_line = format!("{name}\n{}", facets.replace('\n', " "));
        let bare = TRIANGLE
            .replace(" a name with spaces", "")
            .replace(" a name", "");
        let mut latin = TRIANGLE.as_bytes().to_vec();
        latin[8] = 0xe9;
        for text in [
            capitals.as_bytes(),
            one_line.as_bytes(),
            bare.as_bytes(),
            &latin,
        ] {
            assert_eq!(read_ascii(text).unwrap().mesh, expected);
        }
    }

    #[test]
    fn several_solids_become_one_mesh_and_that_is_told() {
        let lifted = TRIANGLE.replace("vertex 0 1 0", "vertex 0 1 5");
        let loaded = read_ascii(format!("{TRIANGLE}\n{lifted}\n\n").as_bytes()).unwrap();
        assert_eq!(loaded.mesh.triangles(), [[0, 1, 2], [0, 1, 3]]);
        assert_eq!(loaded.remarks, [Remark::SolidsJoined { solids: 2 }]);
    }

    #[test]
    fn a_wrong_word_is_named_with_its_line() {
        refused_with(
            "vertex 1",
            "vertx 1",
            "line 5: expected `vertex` but found 'vertx'; correct the line, or export the file again as binary STL",
        );
        refused_with(
            "endloop",
            "vertex 1 1 1",
            "line 7: expected `endloop` after three corners but found 'vertex'; correct the line, or export the file again as binary STL",
        );
        refused_with(
            "facet",
            "face",
            "line 2: expected `facet` or `endsolid` but found 'face'; correct the line, or export the file again as binary STL",
        );
        refused(
            &format!("{TRIANGLE}more\n"),
            "line 10: expected `solid` but found 'more'; correct the line, or export the file again as binary STL",
        );
    }

    #[test]
    fn a_bad_number_is_named_with_its_line_triangle_and_corner() {
        refused_with(
            "1 0 0",
            "1,5 0 0",
            "line 5: triangle 0 (counting from 0), second corner: '1,5' is no number; write numbers like -12.5 or 1e-3, or export the file again",
        );
        let second = TRIANGLE.replace("0 1 0", "0 1 nan");
        refused(
            &format!("{TRIANGLE}{second}"),
            "line 15: triangle 1 (counting from 0), third corner: z is NaN, not a finite number; repair the mesh where it was made and export it again",
        );
        refused_with(
            "0 0 0",
            "-1e999 0 0",
            "line 4: triangle 0 (counting from 0), first corner: x is -inf, not a finite number; repair the mesh where it was made and export it again",
        );
    }

    #[test]
    fn a_cut_file_is_refused_wherever_it_is_cut() {
        let whole = TRIANGLE.find("endsolid").unwrap() + "endsolid".len();
        for end in 0..whole {
            assert!(read_ascii(&TRIANGLE.as_bytes()[..end]).is_err(), "{end}");
        }
        assert!(read_ascii(&TRIANGLE.as_bytes()[..whole]).is_ok());
        refused(
            TRIANGLE.split_once("endsolid").unwrap().0,
            "the file ends after line 8 and 1 triangles, where `facet` or `endsolid` should follow: it was cut short; copy or export it again",
        );
    }

    #[test]
    fn a_solid_without_facets_is_refused() {
        refused(
            "solid\nendsolid\n",
            "the file holds no triangles; export the surface again",
        );
    }
}
