//! Where a published number comes from, and how far to trust it.

/// How a published number reached this code.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Trust {
    /// Read in the cited text.
    Read,
    /// Read in public source code that implements the cited text.
    ReadInCode,
    /// Written down from memory; the cited text was not opened.
    FromMemory,
}

impl std::fmt::Display for Trust {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Read => "read in the cited text",
            Self::ReadInCode => "read in public code that cites it",
            Self::FromMemory => "from memory",
        })
    }
}

/// A citation and its trust.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Source {
    /// Author, year, journal, and whose quotation was read where it was not the original.
    pub citation: &'static str,
    /// How the number was obtained.
    pub trust: Trust,
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ({})", self.citation, self.trust)
    }
}
