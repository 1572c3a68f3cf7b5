//! What each piece of a mesh is to somebody who treats hips.

use cupwright_anatomy::{NoSocket, Socket, find_socket};
use cupwright_geometry::TriMesh;
use cupwright_geometry::mend::{self, Piece, enclosed};

/// What a piece is, as far as its size and the socket tell.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Role {
    /// It holds the socket that was found.
    Socket,
    /// It holds the socket of the other side.
    OtherSocket,
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
    pub fn name(self) -> &'static str {
        match self {
            Self::Socket => "socket",
            Self::OtherSocket => "other-socket",
            Self::InSocket => "in-socket",
            Self::Cavity => "cavity",
            Self::Bone => "bone",
            Self::Bit => "bit",
        }
    }
}

/// The socket as it is found on its own piece, where other pieces hide it or its side.
pub(crate) fn found_alone(
    mesh: &TriMesh,
    pieces: &[Piece],
    found: Result<Socket, NoSocket>,
) -> Result<Socket, NoSocket> {
    /// Of many pieces only the largest ones are looked at.
    const LOOKED_AT: usize = 4;
    let is_clear = found.is_ok_and(|socket| socket.side.is_some());
    if is_clear || pieces.len() < 2 {
        return found;
    }
    let holder = found.ok().and_then(|socket| holder(mesh, pieces, &socket));
    let bones = pieces.iter().filter(|piece| piece.extent() >= BIT);
    let likely = holder.into_iter().chain(bones.take(LOOKED_AT));
    let mut alone = likely.filter_map(|piece| find_socket(&mend::only(mesh, [piece])?).ok());
    alone
        .find(|socket| socket.side.is_some() || found.is_err())
        .map_or(found, Ok)
}

/// Less than this across, in mm, is no bone: the smallest one beside a hip, a sesamoid or a loose body of
/// the joint, is about as large (common practice, no published source).
pub const BIT: f64 = 10.0;

/// The role of each piece, in their order.
pub fn roles(
    mesh: &TriMesh,
    pieces: &[Piece],
    socket: Option<&Socket>,
    other: Option<&Socket>,
) -> Vec<Role> {
    let holder_of = |socket| holder(mesh, pieces, socket);
    let (holder, holder_of_other) = (socket.and_then(holder_of), other.and_then(holder_of));
    let is = |piece: &Piece, one: Option<&Piece>| {
        one.is_some_and(|one| one.triangles == piece.triangles)
    };
    let inside: Vec<&Piece> = match holder.or(pieces.first()) {
        Some(outer) if pieces.len() > 1 => enclosed(mesh, outer, pieces),
        _ => Vec::new(),
    };
    let role = |piece: &Piece| {
        if is(piece, holder) {
            Role::Socket
        } else if is(piece, holder_of_other) {
            Role::OtherSocket
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
