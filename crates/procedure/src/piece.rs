//! Which piece of a mesh is meant, where a file holds several.

use std::fmt;

use cupwright_anatomy::{Side, find_socket};
use cupwright_geometry::TriMesh;
use cupwright_geometry::mend::{self, Piece, enclosed};
use thiserror::Error;

/// A piece asked for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Choice {
    /// The piece of this number, counting from 1, the largest surface first.
    Number(usize),
    /// The one with the largest surface.
    Largest,
    /// The one that holds the socket of this hip.
    WithSocket(Side),
}

/// A piece that is not there.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum NoPiece {
    /// No piece has that number.
    #[error("there is no piece {number}: the mesh holds {count} piece(s)")]
    Number {
        /// The number.
        number: usize,
        /// How many pieces there are.
        count: usize,
    },
    /// No socket of that hip.
    #[error("none of the {count} piece(s) of the mesh holds the socket of a {side} hip")]
    Socket {
        /// The hip.
        side: Side,
        /// How many pieces there are.
        count: usize,
    },
}

impl Choice {
    /// The piece that is meant, and what it encloses, as a mesh of their own.
    ///
    /// # Errors
    /// When there is no such piece.
    pub fn alone(self, mesh: TriMesh) -> Result<TriMesh, NoPiece> {
        let pieces = mend::pieces(&mesh);
        let kept = self.among(&mesh, &pieces)?;
        if kept.len() == pieces.len() {
            return Ok(mesh);
        }
        Ok(mend::only(&mesh, kept).unwrap_or(mesh))
    }

    /// The piece that is meant, first, and those that it encloses.
    ///
    /// # Errors
    /// When there is no such piece.
    pub fn among<'a>(self, mesh: &TriMesh, pieces: &'a [Piece]) -> Result<Vec<&'a Piece>, NoPiece> {
        let count = pieces.len();
        let numbered = |number: usize| {
            let found = number.checked_sub(1).and_then(|k| pieces.get(k));
            found.ok_or(NoPiece::Number { number, count })
        };
        let piece = match self {
            Self::Largest => numbered(1),
            Self::Number(number) => numbered(number),
            Self::WithSocket(side) => pieces
                .iter()
                .find(|piece| holds_socket_of(mesh, piece, side))
                .ok_or(NoPiece::Socket { side, count }),
        }?;
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
            Self::WithSocket(side) => side.fmt(f),
        }
    }
}

fn holds_socket_of(mesh: &TriMesh, piece: &Piece, side: Side) -> bool {
    let alone = mend::only(mesh, [piece]);
    let socket = alone.and_then(|alone| find_socket(&alone).ok());
    socket.is_some_and(|socket| socket.side == Some(side))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;
    use nalgebra::Isometry3;

    #[test]
    fn a_piece_comes_with_what_it_encloses() {
        let [small, large] = [5.0, 10.0].map(|radius| samples::sphere(radius, 2));
        let hollow = large.joined(&large.scaled(0.5).reversed());
        let both = small.joined(&hollow.moved(&Isometry3::translation(50.0, 0.0, 0.0)));
        let alone = |choice: Choice| choice.alone(both.clone()).map(|mesh| mesh.volume());
        let is =
            |found: Result<f64, NoPiece>, whole: f64| (found.unwrap() / whole - 1.0).abs() < 1e-12;
        assert!(is(alone(Choice::Largest), hollow.volume()));
        assert!(is(alone(Choice::Number(1)), hollow.volume()));
        // The cavity has as much surface as the small ball, and came later.
        assert!(is(alone(Choice::Number(2)), small.volume()));
    }

    #[test]
    fn a_piece_that_is_not_there_is_told() {
        let told = |choice: Choice| {
            let refused = choice.alone(samples::sphere(30.0, 3)).unwrap_err();
            refused.to_string()
        };
        assert_eq!(
            told(Choice::Number(2)),
            "there is no piece 2: the mesh holds 1 piece(s)"
        );
        assert_eq!(
            told(Choice::Number(0)),
            "there is no piece 0: the mesh holds 1 piece(s)"
        );
        assert_eq!(
            told(Choice::WithSocket(Side::Left)),
            "none of the 1 piece(s) of the mesh holds the socket of a left hip"
        );
    }
}
