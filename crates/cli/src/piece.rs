//! Which of a file's pieces is meant, and what each is in a clinician's words.

use std::fmt;
use std::str::FromStr;

use cupwright_anatomy::{Side, Socket, find_socket};
use cupwright_geometry::mend::{self, Piece};
use cupwright_geometry::{TriMesh, mend::enclosed};

/// A piece asked for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Choice {
    /// The piece of this number, counting from 1, the largest surface first.
    Number(usize),
    /// The one with the largest surface.
    Largest,
    /// The one that holds the socket of this hip.
    Hip(Side),
}

impl FromStr for Choice {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        match typed {
            "largest" => Ok(Self::Largest),
            "left" => Ok(Self::Hip(Side::Left)),
            "right" => Ok(Self::Hip(Side::Right)),
            _ => match typed.parse() {
                Ok(number) if number > 0 => Ok(Self::Number(number)),
                _ => Err("give a number from 1, largest, left or right".into()),
            },
        }
    }
}

impl Choice {
    /// The piece that is meant, and those that it encloses.
    pub(crate) fn among<'a>(
        self,
        mesh: &TriMesh,
        pieces: &'a [Piece],
    ) -> anyhow::Result<Vec<&'a Piece>> {
        let count = pieces.len();
        let found = match self {
            Self::Largest => pieces.first(),
            Self::Number(number) => pieces.get(number - 1),
            Self::Hip(side) => pieces
                .iter()
                .find(|piece| holds_socket_of(mesh, piece, side)),
        };
        let piece = found.ok_or_else(|| match self {
            Self::Hip(side) => anyhow::anyhow!(
                "--piece {side}: none of the {count} piece(s) holds the socket of a {side} hip; \
                 see cupwright inspect for their numbers"
            ),
            _ => anyhow::anyhow!(
                "--piece {self}: the mesh holds {count} piece(s); see cupwright inspect for their numbers"
            ),
        })?;
        let mut kept = vec![piece];
        kept.extend(enclosed(mesh, piece, pieces));
        Ok(kept)
    }
}

impl fmt::Display for Choice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Largest => f.write_str("largest"),
            Self::Hip(side) => side.fmt(f),
        }
    }
}

fn holds_socket_of(mesh: &TriMesh, piece: &Piece, side: Side) -> bool {
    let alone = mend::only(mesh, [piece]);
    let socket = alone.and_then(|alone| find_socket(&alone).ok());
    socket.is_some_and(|socket| socket.side == Some(side))
}

/// What a piece is, as far as its size and the socket tell.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Role {
    /// It holds the socket that was found.
    Socket,
    /// It reaches into the socket: a femur, or its head.
    InSocket,
    /// It lies inside another piece and bounds a cavity there.
    Cavity,
    /// A bone of its own.
    Bone,
    /// Too small to be one.
    Bit,
}

impl Role {
    /// One word for it, for programs.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Socket => "socket",
            Self::InSocket => "in-socket",
            Self::Cavity => "cavity",
            Self::Bone => "bone",
            Self::Bit => "bit",
        }
    }
}

/// Less than this across, in mm, is no bone: the smallest one beside a hip, a sesamoid or a loose body of
/// the joint, is about as large (common practice, no published source).
pub(crate) const BIT: f64 = 10.0;

/// The role of each piece, in their order.
pub(crate) fn roles(mesh: &TriMesh, pieces: &[Piece], socket: Option<&Socket>) -> Vec<Role> {
    let holder = socket.and_then(|socket| holder(mesh, pieces, socket));
    let inside: Vec<&Piece> = match holder.or(pieces.first()) {
        Some(outer) if pieces.len() > 1 => enclosed(mesh, outer, pieces),
        _ => Vec::new(),
    };
    let role = |piece: &Piece| {
        if holder.is_some_and(|h| h.triangles == piece.triangles) {
            Role::Socket
        } else if piece.closed
            && piece.volume < 0.0
            && inside.iter().any(|p| p.triangles == piece.triangles)
        {
            Role::Cavity
        } else if piece.extent() < BIT {
            Role::Bit
        } else if socket.is_some_and(|socket| reaches_into(mesh, piece, socket)) {
            Role::InSocket
        } else {
            Role::Bone
        }
    };
    pieces.iter().map(role).collect()
}

/// The piece with most of the surface that faces the socket's centre from about its radius.
fn holder<'a>(mesh: &TriMesh, pieces: &'a [Piece], socket: &Socket) -> Option<&'a Piece> {
    if let [only] = pieces {
        return Some(only);
    }
    let reach = socket.radius - 4.0..socket.radius + 8.0;
    let share = |piece: &Piece| -> f64 {
        if piece.bounds.distance_to(&socket.centre) > reach.end {
            return 0.0;
        }
        let facing = |&t: &u32| {
            let away = mesh.corners(t as usize)[0] - socket.centre;
            let seen = -mesh.area_vector(t as usize).dot(&away) / away.norm();
            reach.contains(&away.norm()).then_some(seen.max(0.0))
        };
        piece.triangles.iter().filter_map(facing).sum()
    };
    let shares = pieces.iter().map(|piece| (share(piece), piece));
    let best = shares.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 > 0.0).then_some(best.1)
}

/// Whether a piece bulges into the socket's sphere, as the head of a femur does.
fn reaches_into(mesh: &TriMesh, piece: &Piece, socket: &Socket) -> bool {
    const WELL_WITHIN: f64 = 0.97;
    if piece.bounds.distance_to(&socket.centre) > socket.radius {
        return false;
    }
    piece.triangles.iter().any(|&t| {
        let away = mesh.corners(t as usize)[0] - socket.centre;
        let outward = mesh.area_vector(t as usize).dot(&away) > 0.0;
        outward && away.norm() < WELL_WITHIN * socket.radius
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_is_a_number_a_size_or_a_side() {
        let choice = |typed: &str| typed.parse::<Choice>();
        assert_eq!(choice("2"), Ok(Choice::Number(2)));
        assert_eq!(choice("largest"), Ok(Choice::Largest));
        assert_eq!(choice("left"), Ok(Choice::Hip(Side::Left)));
        for bad in ["0", "-1", "biggest", ""] {
            assert!(choice(bad).is_err(), "{bad}");
        }
    }
}
