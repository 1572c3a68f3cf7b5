//! Right and left.

/// Which hip.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Side {
    /// The patient's right; x positive in the pelvic frame.
    Right,
    /// The patient's left; x negative in the pelvic frame.
    Left,
}

impl Side {
    /// +1 on the right, −1 on the left: the sign of x on this side of the pelvic frame.
    pub fn sign(self) -> f64 {
        match self {
            Self::Right => 1.0,
            Self::Left => -1.0,
        }
    }

    /// The other side.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Right => Self::Left,
            Self::Left => Self::Right,
        }
    }
}

impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Right => "right",
            Self::Left => "left",
        })
    }
}

/// One thing on each side.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Both<T> {
    /// On the patient's right.
    pub right: T,
    /// On the patient's left.
    pub left: T,
}

impl<T> Both<T> {
    /// `here` on `side` and `there` on the other.
    pub fn with(side: Side, here: T, there: T) -> Self {
        match side {
            Side::Right => Self {
                right: here,
                left: there,
            },
            Side::Left => Self {
                right: there,
                left: here,
            },
        }
    }

    /// The one on `side`, to be changed.
    pub fn on_mut(&mut self, side: Side) -> &mut T {
        match side {
            Side::Right => &mut self.right,
            Side::Left => &mut self.left,
        }
    }

    /// The one on `side`.
    pub fn on(&self, side: Side) -> &T {
        match side {
            Side::Right => &self.right,
            Side::Left => &self.left,
        }
    }
}
