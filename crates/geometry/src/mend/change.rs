//! What mending did, and what it left, each as a sentence.

use std::fmt;

use nalgebra::Point3;

use super::fill::Lid;

/// Something that mending did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// Corners that lay side by side became one.
    Joined {
        /// How many corners became one with another.
        vertices: usize,
        /// How far the farthest of them moved, in mm.
        farthest: f64,
        /// Triangles left out because two of their corners are the same.
        collapsed: usize,
    },
    /// Triangles that were there twice are there once.
    CopiesDropped {
        /// How many were left out.
        triangles: usize,
    },
    /// Flaps along an edge that has two triangles without them are gone.
    FlapsDropped {
        /// How many triangles.
        triangles: usize,
        /// Their area, in mm².
        area: f64,
    },
    /// Triangles were turned round to face as their neighbours do.
    Turned {
        /// How many.
        triangles: usize,
    },
    /// A piece was turned inside out.
    PieceTurned {
        /// How many triangles it has.
        triangles: usize,
        /// A point on it.
        at: Point3<f64>,
        /// Whether it now bounds a cavity in another piece.
        cavity: bool,
    },
    /// Small loose pieces are gone.
    CrumbsDropped {
        /// How many pieces.
        pieces: usize,
        /// How many triangles.
        triangles: usize,
        /// Longest extent of the largest, in mm.
        largest: f64,
    },
    /// Pieces that were not wanted are gone.
    PiecesDropped {
        /// How many pieces.
        pieces: usize,
        /// How many triangles.
        triangles: usize,
    },
    /// A place where the surface passed through itself was cut out and closed.
    Untangled {
        /// How many triangles were cut out.
        triangles: usize,
        /// The middle of the place.
        at: Point3<f64>,
        /// How wide it is, in mm.
        across: f64,
    },
    /// A hole was closed.
    HoleClosed {
        /// The middle of its border.
        at: Point3<f64>,
        /// How wide it is, in mm.
        across: f64,
        /// How many edges its border has.
        edges: usize,
        /// Area of the lid, in mm².
        area: f64,
        /// How.
        lid: Lid,
        /// How far the lid stands off a flat one, in mm: both are guesses at where the surface was.
        bulge: f64,
    },
    /// Slivers are gone.
    SliversDropped {
        /// How many.
        triangles: usize,
        /// How far the surface moved at most, in mm.
        farthest: f64,
    },
    /// The surface was cut into triangles anew.
    Remeshed {
        /// Triangles before.
        before: usize,
        /// Triangles after.
        after: usize,
        /// Length of edge asked for, in mm.
        edge: f64,
    },
}

/// Something that is still wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Left {
    /// A hole wider than was to be closed.
    Hole {
        /// The middle of its border.
        at: Point3<f64>,
        /// How wide it is, in mm.
        across: f64,
    },
    /// Edges without a neighbour that make no border that could be followed.
    Open {
        /// How many edges.
        edges: usize,
    },
    /// Edges along which an odd number of triangles meets.
    OddEdges {
        /// How many.
        edges: usize,
    },
    /// Neighbours that disagree about which side is out, whichever way they are turned.
    OneSided {
        /// Along how many edges.
        edges: usize,
    },
    /// Triangles that pass through each other.
    Crossing {
        /// How many pairs.
        pairs: usize,
        /// A corner of one of the first.
        at: Point3<f64>,
        /// Whether they belong to different pieces.
        between_pieces: bool,
    },
    /// Slivers.
    Slivers {
        /// How many.
        triangles: usize,
    },
    /// Many small pieces that are too much of the surface to be crumbs.
    Loose {
        /// How many.
        pieces: usize,
    },
}

impl Change {
    /// One word for the kind of change, for programs.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Joined { .. } => "joined",
            Self::CopiesDropped { .. } => "copies-dropped",
            Self::FlapsDropped { .. } => "flaps-dropped",
            Self::Turned { .. } => "turned",
            Self::PieceTurned { .. } => "piece-turned",
            Self::CrumbsDropped { .. } => "crumbs-dropped",
            Self::PiecesDropped { .. } => "pieces-dropped",
            Self::Untangled { .. } => "untangled",
            Self::HoleClosed { .. } => "hole-closed",
            Self::SliversDropped { .. } => "slivers-dropped",
            Self::Remeshed { .. } => "remeshed",
        }
    }

    /// Where, if it is at one place.
    pub fn place(&self) -> Option<Point3<f64>> {
        match self {
            Self::PieceTurned { at, .. }
            | Self::Untangled { at, .. }
            | Self::HoleClosed { at, .. } => Some(*at),
            _ => None,
        }
    }
}

impl Left {
    /// One word for what it is, for programs.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Hole { .. } => "hole",
            Self::Open { .. } => "open",
            Self::OddEdges { .. } => "odd-edges",
            Self::OneSided { .. } => "one-sided",
            Self::Crossing { .. } => "crossing",
            Self::Slivers { .. } => "slivers",
            Self::Loose { .. } => "loose",
        }
    }

    /// Where, if it is at one place.
    pub fn place(&self) -> Option<Point3<f64>> {
        match self {
            Self::Hole { at, .. } | Self::Crossing { at, .. } => Some(*at),
            _ => None,
        }
    }

    /// Whether every measure can be taken all the same.
    pub fn is_harmless(&self) -> bool {
        matches!(self, Self::Slivers { .. })
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Turned { triangles } => write!(
                f,
                "triangles that faced the wrong way turned round: {triangles}"
            ),
            Self::PieceTurned {
                triangles, cavity, ..
            } => {
                let why = if *cavity {
                    "it bounds a cavity and now faces into it"
                } else {
                    "it was inside out"
                };
                write!(
                    f,
                    "a whole piece turned round ({triangles} triangles): {why}"
                )
            }
            Self::SliversDropped {
                triangles,
                farthest,
            } => write!(
                f,
                "slivers taken out: {triangles}, moving the surface by up to {farthest:.4} mm"
            ),
            Self::Remeshed {
                before,
                after,
                edge,
            } => write!(
                f,
                "surface cut anew with edges of about {edge} mm: {before} triangles became {after}"
            ),
            Self::Joined { .. } | Self::Untangled { .. } | Self::HoleClosed { .. } => {
                self.tell_closed(f)
            }
            Self::CopiesDropped { .. }
            | Self::FlapsDropped { .. }
            | Self::CrumbsDropped { .. }
            | Self::PiecesDropped { .. } => self.tell_dropped(f),
        }
    }
}

impl Change {
    /// What was joined or closed.
    fn tell_closed(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Joined {
                vertices,
                farthest,
                collapsed,
            } => {
                write!(f, "corners that lay side by side became one: {vertices}")?;
                if *farthest > 0.0 {
                    write!(f, ", moved by up to {farthest:.4} mm")?;
                }
                if *collapsed > 0 {
                    write!(f, "; {collapsed} triangle(s) without area left out")?;
                }
                Ok(())
            }
            Self::Untangled {
                triangles, across, ..
            } => write!(
                f,
                "a place {across:.1} mm across where the surface passed through itself cut out and closed \
                 ({triangles} triangles)"
            ),
            Self::HoleClosed {
                across,
                area,
                lid,
                bulge,
                ..
            } => {
                write!(f, "a hole {across:.1} mm across closed, {area:.1} mm², ")?;
                match lid {
                    Lid::Flat => f.write_str("with a flat lid: a guess at where bone was"),
                    Lid::Bent => write!(
                        f,
                        "following the surface around it, up to {bulge:.1} mm off a flat lid: a guess at where bone was"
                    ),
                }
            }
            _ => Ok(()),
        }
    }

    /// What was left out.
    fn tell_dropped(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CopiesDropped { triangles } => {
                write!(f, "triangles that were there twice left out: {triangles}")
            }
            Self::FlapsDropped { triangles, area } => write!(
                f,
                "flaps hanging on the surface left out: {triangles} triangle(s), {area:.1} mm²"
            ),
            Self::CrumbsDropped {
                pieces,
                triangles,
                largest,
            } => write!(
                f,
                "loose bits left out: {pieces} ({triangles} triangles), the largest {largest:.1} mm"
            ),
            Self::PiecesDropped { pieces, triangles } => {
                write!(f, "other pieces left out: {pieces} ({triangles} triangles)")
            }
            _ => Ok(()),
        }
    }
}

impl fmt::Display for Left {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Hole { across, .. } => write!(f, "a hole {across:.1} mm across is open"),
            Self::Open { edges } => write!(f, "{edges} edge(s) have no neighbour"),
            Self::OddEdges { edges } => write!(
                f,
                "more than two sheets of surface meet along {edges} edge(s), and none could be told as the one too many"
            ),
            Self::OneSided { edges } => write!(
                f,
                "along {edges} edge(s) the surface has no inside and outside, whichever way it is turned"
            ),
            Self::Crossing {
                pairs,
                between_pieces,
                ..
            } => {
                let what = if *between_pieces {
                    "pieces pass through each other"
                } else {
                    "the surface passes through itself"
                };
                write!(
                    f,
                    "{what} at {pairs} pair(s) of triangles; bone enclosed twice counts twice"
                )
            }
            Self::Slivers { triangles } => {
                write!(
                    f,
                    "{triangles} sliver(s) stay; they do no harm to any measure"
                )
            }
            Self::Loose { pieces } => write!(
                f,
                "{pieces} loose bits are too much of the surface to be left out; its triangles are not joined, or a larger tolerance is needed"
            ),
        }
    }
}
