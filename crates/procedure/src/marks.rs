//! The landmark file: named points of a pelvis, and what a socket measures, as text beside a mesh.
//!
//! One format, RON, whoever writes it: version, unit, axes, then points by name. What it may hold is listed at
//! [`MarksFile`]; `README.md` has an example. Version 1, without unit and axes, is read as millimetres.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};
use std::path::Path;

use cupwright_anatomy::guess::{Basis, Correction, Mark};
use cupwright_anatomy::{Both, Landmarks, Side};
use nalgebra::Point3;
use serde::Deserialize;
use thiserror::Error;

use crate::case::{FARTHEST, SideEntry};
use crate::syntax;
use crate::text::{self, Unreadable};
use crate::unit::Unit;

/// The version that is written; it and version 1 are read.
pub const VERSION: u32 = 2;

/// A landmark file as typed.
#[derive(Clone, Debug, Default, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct MarksFile {
    /// Version of the format.
    pub version: u32,
    /// Unit of the coordinates and of `within`.
    #[serde(default)]
    pub unit: Unit,
    /// How the coordinates lie; always those of the mesh beside it.
    #[serde(default)]
    pub axes: MarksAxes,
    /// Which hip a mesh of one hip bone is.
    #[serde(default)]
    pub side: Option<SideEntry>,
    /// Points by name: `asis_right`, `pubic_tubercle_left`, `psis_right`, `hip_centre`; other names are
    /// kept and not used.
    pub points: BTreeMap<String, [f64; 3]>,
    /// Within how much each point is thought to be right, in the file's unit.
    #[serde(default)]
    pub within: BTreeMap<String, f64>,
    /// What each point rests on, in words.
    #[serde(default)]
    pub basis: BTreeMap<String, String>,
    /// Diameter of the sphere of the socket's joint surface, in mm whatever the unit.
    #[serde(default)]
    pub socket_diameter_mm: Option<f64>,
    /// Unit vector out of the socket.
    #[serde(default)]
    pub socket_axis: Option<[f64; 3]>,
    /// The line of the rim.
    #[serde(default)]
    pub rim: Vec<[f64; 3]>,
    /// The border of the fossa.
    #[serde(default)]
    pub fossa: Vec<[f64; 3]>,
}

/// How the coordinates of a landmark file lie in the patient.
#[derive(Clone, Copy, Debug, Default, Deserialize, Eq, PartialEq)]
pub enum MarksAxes {
    /// As those of the mesh, whichever way that lies.
    #[default]
    Mesh,
    /// As those of the mesh, which are pelvic: x toward the patient's right, y anterior, z superior.
    Pelvic,
}

/// Why a landmark file cannot be used.
#[derive(Debug, Error)]
pub enum BadMarks {
    /// It cannot be read.
    #[error(transparent)]
    Unreadable(#[from] Unreadable),
    /// The text is no landmark file.
    #[error("{file}: {}", syntax::told(problem))]
    Syntax {
        /// The file.
        file: String,
        /// What is wrong, and where.
        problem: Box<ron::error::SpannedError>,
    },
    /// Written for a later version.
    #[error(
        "{file}: version is {found}; this program reads versions 1 to {VERSION} of the landmark format"
    )]
    Version {
        /// The file.
        file: String,
        /// The version it names.
        found: u32,
    },
    /// A coordinate that is none.
    #[error("{file}: {point} has a coordinate that is not a number of at most 1000000 mm")]
    Coordinate {
        /// The file.
        file: String,
        /// The name of the point.
        point: String,
    },
    /// A landmark that is needed is not there.
    #[error("{file}: there is no point {point}; ASIS and pubic tubercle are needed on both sides")]
    Missing {
        /// The file.
        file: String,
        /// The name of the point.
        point: String,
    },
}

/// The name of the hip centre among the points.
pub const HIP_CENTRE: &str = "hip_centre";

/// The name of a landmark among the points: `asis_right`.
pub fn name(mark: Mark, side: Side) -> String {
    format!("{}_{side}", mark.key())
}

/// The landmark of that name; `None` where it is another's.
pub fn named(name: &str) -> Option<(Mark, Side)> {
    Mark::sided().find(|(mark, side)| self::name(*mark, *side) == name)
}

/// Landmarks read from a file: points in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Marks {
    file: String,
    /// Which hip, where the file says so.
    pub side: Option<Side>,
    /// Radius of the sphere of the socket's joint surface, where the file has one.
    pub socket_radius: Option<f64>,
    points: BTreeMap<String, Point3<f64>>,
    /// Those that the file says are mirror images.
    mirrored: BTreeSet<String>,
}

impl Marks {
    /// The landmarks in the file at `path`.
    ///
    /// # Errors
    /// When it cannot be read or is no landmark file; the error says where.
    pub fn read(path: &Path) -> Result<Self, BadMarks> {
        Self::parse(&text::read(path)?, &path.display().to_string())
    }

    /// The landmarks in the text of `file`.
    ///
    /// # Errors
    /// When it is no landmark file, of a later version, or a coordinate is no place.
    pub fn parse(text: &str, file: &str) -> Result<Self, BadMarks> {
        // Version 1 wrote its optional parts plainly, and so does this one.
        let plainly = ron::Options::default()
            .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
        let typed: MarksFile = plainly.from_str(text).map_err(|problem| BadMarks::Syntax {
            file: file.into(),
            problem: problem.into(),
        })?;
        if !(1..=VERSION).contains(&typed.version) {
            return Err(BadMarks::Version {
                file: file.into(),
                found: typed.version,
            });
        }
        let scale = typed.unit.millimetres();
        let mut points = BTreeMap::new();
        for (point, at) in typed.points {
            let at = Point3::from(at) * scale;
            if !at.iter().all(|c| c.abs() <= FARTHEST) {
                let file = file.into();
                return Err(BadMarks::Coordinate { file, point });
            }
            points.insert(point, at);
        }
        let mirrored = Basis::Mirrored.to_string();
        let basis = typed.basis.into_iter();
        Ok(Self {
            file: file.into(),
            side: typed.side.map(Into::into),
            socket_radius: typed.socket_diameter_mm.map(|diameter| diameter / 2.0),
            points,
            mirrored: basis
                .filter_map(|(point, basis)| (basis == mirrored).then_some(point))
                .collect(),
        })
    }

    /// What frames are built from.
    ///
    /// # Errors
    /// When an ASIS or a pubic tubercle is missing, or one PSIS without the other.
    pub fn landmarks(&self) -> Result<Landmarks, BadMarks> {
        let at = |mark, side| {
            let name = name(mark, side);
            self.points.get(&name).copied().ok_or(BadMarks::Missing {
                file: self.file.clone(),
                point: name,
            })
        };
        let both = |mark| -> Result<_, BadMarks> {
            Ok(Both {
                right: at(mark, Side::Right)?,
                left: at(mark, Side::Left)?,
            })
        };
        let any_psis = [Side::Right, Side::Left].map(|side| at(Mark::Psis, side).is_ok());
        Ok(Landmarks {
            asis: both(Mark::Asis)?,
            pubic_tubercle: both(Mark::PubicTubercle)?,
            psis: any_psis
                .contains(&true)
                .then(|| both(Mark::Psis))
                .transpose()?,
        })
    }

    /// The hip centre, where it is there.
    pub fn hip_centre(&self) -> Option<Point3<f64>> {
        self.points.get(HIP_CENTRE).copied()
    }

    /// What the file says, as corrections of a guess; points that it calls mirror images are left to follow
    /// those they are of.
    pub fn corrections(&self) -> Vec<Correction> {
        let points = self
            .points
            .iter()
            .filter(|(point, _)| !self.mirrored.contains(*point));
        let correction = |(point, at): (&String, &Point3<f64>)| {
            if point == HIP_CENTRE {
                return Some(Correction::HipCentre(*at));
            }
            let (mark, side) = named(point)?;
            let at = *at;
            Some(Correction::Landmark { mark, side, at })
        };
        points.filter_map(correction).collect()
    }
}

/// A point to be written, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedPoint {
    /// Its name in the file.
    pub name: String,
    /// Where it is.
    pub at: Point3<f64>,
    /// Within how much it is thought to be right, and what it rests on, where that is a question.
    pub sure: Option<(f64, String)>,
}

/// What is to be written, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet<'a> {
    /// A comment for the first line, without its slashes.
    pub comment: String,
    /// How the coordinates lie.
    pub axes: MarksAxes,
    /// Which hip.
    pub side: Side,
    /// The points, in order.
    pub points: Vec<NamedPoint>,
    /// Diameter of the socket's sphere.
    pub socket_diameter: f64,
    /// Unit vector out of the socket.
    pub socket_axis: [f64; 3],
    /// The line of the rim.
    pub rim: &'a [Point3<f64>],
    /// The border of the fossa, where known.
    pub fossa: &'a [Point3<f64>],
}

impl Sheet<'_> {
    /// Writes the landmark file.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write(&self, file: &mut impl Write) -> io::Result<()> {
        writeln!(file, "// {}", self.comment)?;
        let side = SideEntry::from(self.side);
        writeln!(file, "(\n    version: {VERSION},\n    unit: Millimetres,")?;
        writeln!(file, "    axes: {:?},\n    side: {side:?},", self.axes)?;
        writeln!(file, "    points: {{")?;
        for point in &self.points {
            writeln!(file, "        \"{}\": {},", point.name, place(&point.at))?;
        }
        writeln!(file, "    }},")?;
        self.write_sureness(file)?;
        writeln!(file, "    socket_diameter_mm: {:.4},", self.socket_diameter)?;
        let [x, y, z] = self.socket_axis.map(|c| c + 0.0);
        writeln!(file, "    socket_axis: ({x:.6}, {y:.6}, {z:.6}),")?;
        for (name, curve) in [("rim", self.rim), ("fossa", self.fossa)] {
            writeln!(file, "    {name}: [")?;
            for p in curve {
                writeln!(file, "        {},", place(p))?;
            }
            writeln!(file, "    ],")?;
        }
        writeln!(file, ")")
    }

    fn write_sureness(&self, file: &mut impl Write) -> io::Result<()> {
        let sure = || {
            self.points
                .iter()
                .filter_map(|p| Some((&p.name, p.sure.as_ref()?)))
        };
        if sure().next().is_none() {
            return Ok(());
        }
        writeln!(file, "    within: {{")?;
        for (name, (within, _)) in sure() {
            writeln!(file, "        \"{name}\": {within:.1},")?;
        }
        writeln!(file, "    }},\n    basis: {{")?;
        for (name, (_, basis)) in sure() {
            writeln!(file, "        \"{name}\": {basis:?},")?;
        }
        writeln!(file, "    }},")
    }
}

fn place(p: &Point3<f64>) -> String {
    // Rounded first, so that what is nearly 0 is not written as -0.
    let [x, y, z] = [p.x, p.y, p.z].map(|c| (c * 1e4).round() / 1e4 + 0.0);
    format!("({x:.4}, {y:.4}, {z:.4})")
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: &str = "// Landmarks of a synthetic right hemipelvis, preset small: invented, no patient's. In mm.\n(\n    version: 1,\n    points: {\n        \"asis_right\": (119.0, 0.0, 0.0),\n        \"asis_left\": (-119.0, 0.0, 0.0),\n        \"aiis_right\": (95.0, -20.0, -48.0),\n        \"pubic_tubercle_right\": (28.0, 0.0, -92.7),\n        \"pubic_tubercle_left\": (-28.0, 0.0, -92.7),\n        \"hip_centre\": (86.0, -55.0, -76.0),\n    },\n    socket_diameter_mm: 52.0000,\n    socket_axis: (0.75, 0.29, -0.59),\n    rim: [\n        (1.0, 2.0, 3.0),\n    ],\n    fossa: [\n        (1.0, 2.0, 3.0),\n    ],\n)\n";

    fn refusal(from: &str, to: &str) -> String {
        assert!(OLD.contains(from), "nothing to replace");
        Marks::parse(&OLD.replace(from, to), "a.ron")
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn the_example_of_the_readme_is_a_landmark_file() {
        let readme = include_str!("../../../README.md");
        let from = readme.find("(\n    version: 2,").unwrap();
        let text = readme[from..].split("```").next().unwrap();
        let marks = Marks::parse(text, "README.md").unwrap();
        assert!(marks.landmarks().unwrap().psis.is_some());
        assert_eq!(marks.side, Some(Side::Left));
        assert_eq!(marks.socket_radius, Some(26.0));
    }

    #[test]
    fn a_file_of_the_first_version_is_still_read() {
        let marks = Marks::parse(OLD, "a.ron").unwrap();
        let landmarks = marks.landmarks().unwrap();
        assert_eq!(landmarks.asis.left, Point3::new(-119.0, 0.0, 0.0));
        assert!(landmarks.psis.is_none() && marks.side.is_none());
        assert_eq!(marks.hip_centre(), Some(Point3::new(86.0, -55.0, -76.0)));
        assert_eq!(marks.corrections().len(), 5);
    }

    #[test]
    fn what_is_written_is_read_and_a_unit_is_heeded() {
        let point = |mark, side, x| NamedPoint {
            name: name(mark, side),
            at: Point3::new(x, -1e-9, 3.25),
            sure: Some((1.5, "it \"sticks out\"".into())),
        };
        let sheet = Sheet {
            comment: "A test. In mm.".into(),
            axes: MarksAxes::Mesh,
            side: Side::Left,
            points: vec![
                point(Mark::Asis, Side::Right, 119.0),
                point(Mark::Asis, Side::Left, -119.0),
                point(Mark::PubicTubercle, Side::Right, 28.0),
                point(Mark::PubicTubercle, Side::Left, -28.0),
            ],
            socket_diameter: 52.0,
            socket_axis: [0.6, 0.0, -0.8],
            rim: &[Point3::origin()],
            fossa: &[],
        };
        let mut file = Vec::new();
        sheet.write(&mut file).unwrap();
        let text = String::from_utf8(file).unwrap();
        assert!(text.contains("unit: Millimetres,\n    axes: Mesh,") && !text.contains("-0.0000"));
        let marks = Marks::parse(&text, "a.ron").unwrap();
        assert_eq!(marks.side, Some(Side::Left));
        let landmarks = marks.landmarks().unwrap();
        assert_eq!(landmarks.asis.right, Point3::new(119.0, 0.0, 3.25));
        let inches = Marks::parse(&text.replace("Millimetres", "Inches"), "a.ron").unwrap();
        let asis = inches.landmarks().unwrap().asis.right;
        assert!((asis.x - 119.0 * 25.4).abs() < 1e-9 && (asis.z - 3.25 * 25.4).abs() < 1e-9);
        let image = text.replacen("it \\\"sticks out\\\"", "mirror image of the other side", 1);
        assert_ne!(image, text);
        let fewer = Marks::parse(&image, "a.ron").unwrap();
        assert_eq!(
            (marks.corrections().len(), fewer.corrections().len()),
            (4, 3)
        );
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        assert_eq!(
            refusal("version: 1", "version: 9"),
            "a.ron: version is 9; this program reads versions 1 to 2 of the landmark format"
        );
        assert!(
            refusal("points", "pionts")
                .starts_with("a.ron: line 4, column 5: there is no field pionts")
        );
        assert!(refusal("(119.0, 0.0", "(1e9, 0.0").contains("asis_right has a coordinate"));
        assert!(refusal("(119.0, 0.0", "(NaN, 0.0").contains("asis_right has a coordinate"));
        let fewer = OLD.replace("\"asis_left\"", "\"other\"");
        let missing = Marks::parse(&fewer, "a.ron")
            .unwrap()
            .landmarks()
            .unwrap_err();
        assert!(missing.to_string().contains("there is no point asis_left"));
    }
}
