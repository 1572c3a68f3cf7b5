//! What a mesh is, in sentences that somebody who treats hips would use.

use cupwright_anatomy::{Side, Socket, find_socket};
use cupwright_geometry::mend::{Piece, Survey, loose_triangles};
use cupwright_geometry::{Bounds, TriMesh};
use nalgebra::{Point3, Vector3};

use super::roles::Role;
use crate::reading::Axes;
use crate::unit::Unit;

/// Surface this far beyond the socket's sphere still counts as the socket's, in mm: rim and fossa
/// (3 to 6 mm deeper than the joint surface).
pub const AROUND: f64 = 10.0;

/// Hip centres of one pelvis are this far apart, in mm: 164 to 179 in adults (Harrington 2007, J Biomech
/// 40:595), and room for children and dysplastic hips.
const HIPS_APART: std::ops::RangeInclusive<f64> = 90.0..=240.0;

/// The socket on the other side of a whole pelvis, looked for in what is not near the first.
///
/// Looked for only where the mesh is wide enough to hold two.
pub fn other_socket(mesh: &TriMesh, first: &Socket) -> Option<Socket> {
    /// A hemipelvis is about 220 by 160 by 100 mm: no second extent is as long.
    const WIDER_THAN_HALF: f64 = 185.0;
    let mut extents: Vec<f64> = mesh.bounds()?.extent().iter().copied().collect();
    extents.sort_by(f64::total_cmp);
    if extents[1] < WIDER_THAN_HALF {
        return None;
    }
    let far = |t: &usize| {
        let corner = mesh.corners(*t)[0];
        (corner - first.centre).norm() > 2.0 * first.radius
    };
    let rest = (0..mesh.triangles().len()).filter(far);
    let rest = rest.map(|t| mesh.triangles()[t]).collect();
    let rest = TriMesh::new(mesh.vertices().to_vec(), rest).ok()?;
    let second = find_socket(&rest).ok()?;
    let apart = (second.centre - first.centre).norm();
    HIPS_APART.contains(&apart).then_some(second)
}

/// Which way the axes of a file point, as the socket tells: the socket of a right hip opens to the right.
///
/// `None` where the bone does not tell its side, or does not lie as axes of either kind would have it.
pub fn likely_axes(socket: &Socket) -> Option<Axes> {
    /// Sockets open outward by 45 to 60° from straight down (anatomic inclination of the rim): less
    /// than this sideways or downward, the bone lies otherwise.
    const CLEARLY: f64 = 0.3;
    let (side, axis) = (socket.side?, socket.axis);
    if axis.z > -CLEARLY || axis.x.abs() < CLEARLY {
        return None;
    }
    let as_ras = side.sign() * axis.x > 0.0;
    Some(if as_ras {
        Axes::RightAnteriorSuperior
    } else {
        Axes::LeftPosteriorSuperior
    })
}

/// The first sentence: what the file holds.
pub fn subject(
    mesh: &TriMesh,
    survey: &Survey,
    roles: &[Role],
    socket: Option<&Socket>,
    other: Option<&Socket>,
) -> String {
    let what = match (socket, other) {
        (Some(one), Some(two)) => format!(
            "a whole pelvis, its hip centres {:.0} mm apart",
            (one.centre - two.centre).norm()
        ),
        (Some(socket), None) => match socket.side {
            Some(Side::Left) => "a left hemipelvis".into(),
            Some(Side::Right) => "a right hemipelvis".into(),
            None => "bone with a socket, left or right not clear".into(),
        },
        (None, _) => "a surface without a socket that could be found".into(),
    };
    let count = |role: Role| roles.iter().filter(|r| **r == role).count();
    let mut with = Vec::new();
    if count(Role::InSocket) > 0 {
        with.push("a bone in its socket, as a femur would be".to_owned());
    }
    match count(Role::Bone) - usize::from(socket.is_none() && count(Role::Bone) > 0) {
        0 => {}
        1 => with.push("another bone".into()),
        more => with.push(format!("{more} other bones")),
    }
    match count(Role::Bit) {
        0 => {}
        1 => with.push("a loose bit".into()),
        more => with.push(format!("{more} loose bits")),
    }
    let with = if with.is_empty() {
        String::new()
    } else {
        format!(", with {}", with.join(" and "))
    };
    format!("{what}{with}; {}; {}", size(mesh.bounds()), state(survey))
}

/// The first sentence where the file seems to be in another unit, in which nothing can be told by its size.
pub fn subject_in(unit: Unit, extent: f64, survey: &Survey) -> String {
    format!(
        "a surface {extent:.3} long, which would be a bone of the hip in {unit}; {}",
        state(survey)
    )
}

fn state(survey: &Survey) -> &'static str {
    match (survey.is_closed(), survey.is_oriented()) {
        (true, true) => "closed all round",
        (true, false) => "closed, but not all of it faces outward",
        (false, _) => "not closed",
    }
}

/// A box as three lengths.
pub fn size(bounds: Option<Bounds>) -> String {
    let extent = bounds.map_or_else(Vector3::zeros, |b| b.extent());
    format!("{:.0} × {:.0} × {:.0} mm", extent.x, extent.y, extent.z)
}

/// What a piece is.
pub fn of_piece(piece: &Piece, role: Role, socket: Option<&Socket>) -> String {
    let what = match role {
        Role::Socket => match socket.and_then(|s| s.side) {
            Some(side) => format!("the bone with the {side} socket"),
            None => "the bone with the socket".into(),
        },
        Role::OtherSocket => "the bone with the other socket".into(),
        Role::InSocket => "lies in the socket: a femur, or a part of one".into(),
        Role::Cavity => "bounds a cavity inside the bone".into(),
        Role::Bone => "a bone of its own".into(),
        Role::Bit => "a loose bit".into(),
    };
    let closed = if piece.closed { "closed" } else { "open" };
    let count = piece.triangles.len();
    format!(
        "{what}; {}, {closed}, {count} triangles",
        size(Some(piece.bounds))
    )
}

/// Where a place is, seen from the hip centre.
pub fn place(at: &Point3<f64>, socket: Option<&Socket>, axes: Option<Axes>) -> String {
    let Some(socket) = socket else {
        return format!("at {}", coordinates(at));
    };
    let way = at - socket.centre;
    if way.norm() < socket.radius + AROUND {
        return format!("IN THE SOCKET REGION, at {}", coordinates(at));
    }
    let direction = axes.map_or("from ", |_| direction(&way));
    format!(
        "{:.0} mm {direction}the hip centre, at {}",
        way.norm(),
        coordinates(at)
    )
}

/// The main direction of a vector whose axes are RAS.
fn direction(way: &Vector3<f64>) -> &'static str {
    let axis = way.iamax();
    match (axis, way[axis] > 0.0) {
        (0, true) => "to the right of ",
        (0, false) => "to the left of ",
        (1, true) => "in front of ",
        (1, false) => "behind ",
        (_, true) => "above ",
        (_, false) => "below ",
    }
}

/// Coordinates to a tenth of a millimetre.
pub fn coordinates(at: &Point3<f64>) -> String {
    format!("{:.1}, {:.1}, {:.1}", at.x, at.y, at.z)
}

/// What is wrong beside what keeps the mesh from enclosing bone, each as kind and sentence, and whether it
/// does harm.
pub fn flaws(survey: &Survey) -> Vec<(&'static str, String, Harm)> {
    let loose = loose_triangles(&survey.pieces);
    let counted = [
        (
            "loose-triangles",
            if loose > 1 { loose } else { 0 },
            Harm::Done,
        ),
        ("copies", survey.copies, Harm::Done),
        ("flaps", survey.odd_edges, Harm::Done),
        ("slivers", survey.slivers, Harm::None),
        ("pinches", survey.pinches, Harm::None),
    ];
    let found = counted.into_iter().filter(|(_, count, _)| *count > 0);
    found
        .map(|(kind, count, harm)| (kind, flaw(kind, count), harm))
        .collect()
}

fn flaw(kind: &str, count: usize) -> String {
    match kind {
        "loose-triangles" => format!(
            "{count} triangles hang together with no other: the file's corners were not joined; mend joins them"
        ),
        "copies" => format!("{count} triangle(s) are there twice; mend leaves the copies out"),
        "flaps" => format!(
            "more than two sheets of surface meet along {count} edge(s); mend takes the one too many away where it can be told"
        ),
        "slivers" => format!(
            "{count} triangle(s) are slivers, a thousand times as long as high; they do no harm, and mend takes them out"
        ),
        _ => format!(
            "parts of the surface touch at {count} single point(s); that does no harm and stays"
        ),
    }
}

/// Whether a flaw has to be mended before anything can be measured.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Harm {
    /// It has.
    Done,
    /// It has not.
    None,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn socket(side: Side, axis: [f64; 3]) -> Socket {
        Socket {
            centre: Point3::origin(),
            radius: 25.0,
            axis: nalgebra::Unit::new_normalize(axis.into()),
            rms: 0.5,
            coverage: 1.0,
            side: Some(side),
        }
    }

    #[test]
    fn axes_are_told_from_where_a_socket_of_a_known_side_opens() {
        let axes = |side, x| likely_axes(&socket(side, [x, 0.25, -0.6]));
        assert_eq!(axes(Side::Right, 0.75), Some(Axes::RightAnteriorSuperior));
        assert_eq!(axes(Side::Right, -0.75), Some(Axes::LeftPosteriorSuperior));
        assert_eq!(axes(Side::Left, 0.75), Some(Axes::LeftPosteriorSuperior));
        assert_eq!(axes(Side::Left, -0.75), Some(Axes::RightAnteriorSuperior));
        assert_eq!(likely_axes(&socket(Side::Left, [0.1, 0.0, -1.0])), None);
        assert_eq!(likely_axes(&socket(Side::Left, [-0.8, 0.0, 0.6])), None);
    }

    #[test]
    fn a_place_is_told_from_the_hip_centre() {
        let socket = socket(Side::Right, [0.75, 0.25, -0.6]);
        let told = |z, axes| place(&Point3::new(3.0, -2.0, z), Some(&socket), axes);
        assert!(told(-24.0, None).starts_with("IN THE SOCKET REGION"));
        assert_eq!(
            told(80.0, None),
            "80 mm from the hip centre, at 3.0, -2.0, 80.0"
        );
        assert!(
            told(80.0, Some(Axes::RightAnteriorSuperior)).starts_with("80 mm above the hip centre")
        );
    }
}
