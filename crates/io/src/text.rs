//! Lines and words of a text file, with their line numbers.

use std::io::{self, BufRead, Read};

use thiserror::Error;

/// Longest line taken, in bytes: far longer than any statement of the formats, and short enough
/// that a binary file without line ends does not fill the memory.
const LONGEST_LINE: usize = 1 << 20;

/// How much of a word an error repeats, in characters.
const LONGEST_QUOTE: usize = 32;

/// Why a line cannot be had.
#[derive(Debug, Error)]
pub enum BadLine {
    /// No line end within a mebibyte.
    #[error(
        "line {line} is longer than a mebibyte; save the file as text with ordinary line ends, or export it again"
    )]
    TooLong {
        /// The line, counting from 1.
        line: u64,
    },
    /// The operating system refused to read on.
    #[error("line {line} cannot be read ({cause}); check the disk, or copy the file again")]
    Unreadable {
        /// The line, counting from 1.
        line: u64,
        /// What the operating system says.
        cause: io::Error,
    },
}

/// Words separated by white space, line by line.
///
/// A byte-order mark at the start is passed over; bytes need not be UTF-8.
pub(crate) struct Words<R> {
    input: R,
    line: Vec<u8>,
    at: usize,
    number: u64,
    bytes: u64,
}

impl<R: BufRead> Words<R> {
    /// Words of `input`, before its first line.
    pub(crate) fn new(input: R) -> Self {
        Self {
            input,
            line: Vec::new(),
            at: 0,
            number: 0,
            bytes: 0,
        }
    }

    /// The current line's number, counting from 1; 0 before the first.
    pub(crate) fn line_number(&self) -> u64 {
        self.number
    }

    /// Bytes taken from the input so far.
    pub(crate) fn bytes_taken(&self) -> u64 {
        self.bytes
    }

    /// What follows the current line, unread.
    pub(crate) fn into_rest(self) -> R {
        self.input
    }

    /// Goes to the next line; `false` at the end of the file.
    pub(crate) fn next_line(&mut self) -> Result<bool, BadLine> {
        self.line.clear();
        self.at = 0;
        let more = self.append_line()?;
        if self.number == 1 && self.line.starts_with(b"\xef\xbb\xbf") {
            self.at = 3;
        }
        Ok(more)
    }

    /// Adds the next line to the end of the current one; `false` at the end of the file.
    pub(crate) fn append_line(&mut self) -> Result<bool, BadLine> {
        let line = self.number + 1;
        let room = LONGEST_LINE.saturating_sub(self.line.len());
        let mut limited = self.input.by_ref().take(room as u64);
        let taken = limited
            .read_until(b'\n', &mut self.line)
            .map_err(|cause| BadLine::Unreadable { line, cause })?;
        self.bytes += taken as u64;
        if self.line.len() >= LONGEST_LINE {
            return Err(BadLine::TooLong { line });
        }
        self.number += u64::from(taken > 0);
        Ok(taken > 0)
    }

    /// The next word of the current line.
    pub(crate) fn next_on_line(&mut self) -> Option<&[u8]> {
        let rest = self.line.get(self.at..)?;
        let start = self.at + rest.iter().position(|b| !b.is_ascii_whitespace())?;
        let word = &self.line[start..];
        let length = word.iter().position(u8::is_ascii_whitespace);
        self.at = start + length.unwrap_or(word.len());
        Some(&self.line[start..self.at])
    }

    /// Goes to the next line that has a word left, the current one included; `false` at the end of
    /// the file.
    pub(crate) fn reach_word(&mut self) -> Result<bool, BadLine> {
        loop {
            let rest = self.line.get(self.at..).unwrap_or_default();
            if rest.iter().any(|b| !b.is_ascii_whitespace()) {
                return Ok(true);
            }
            if !self.next_line()? {
                return Ok(false);
            }
        }
    }

    /// Passes over what is left of the current line.
    pub(crate) fn skip_line(&mut self) {
        self.at = self.line.len();
    }

    /// The words left on the current line, without taking them.
    pub(crate) fn rest_of_line(&self) -> impl Iterator<Item = &[u8]> {
        let rest = self.line.get(self.at..).unwrap_or_default();
        let words = rest.split(u8::is_ascii_whitespace);
        words.filter(|word| !word.is_empty())
    }

    /// Takes a backslash off the end of the current line; `false` where there is none.
    pub(crate) fn cut_backslash(&mut self) -> bool {
        let kept = self.line.trim_ascii_end().strip_suffix(b"\\");
        let Some(length) = kept.map(<[u8]>::len) else {
            return false;
        };
        self.line.truncate(length);
        true
    }
}

/// The number that a word spells, finite or not; `None` when it spells none.
pub(crate) fn number(word: &[u8]) -> Option<f64> {
    std::str::from_utf8(word).ok()?.parse().ok()
}

/// The whole number that a word spells.
pub(crate) fn whole(word: &[u8]) -> Option<i64> {
    std::str::from_utf8(word).ok()?.parse().ok()
}

/// A word as an error message repeats it: printable, and cut where it is long.
pub(crate) fn quoted(word: &[u8]) -> String {
    let text = String::from_utf8_lossy(word);
    let shown: String = text.chars().take(LONGEST_QUOTE).collect();
    let dots = if shown.len() < text.len() { "..." } else { "" };
    format!("'{}{dots}'", shown.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_with_their_line_whatever_the_line_ends() {
        let mut words = Words::new(&b"\xef\xbb\xbfone  two\r\n\r\n\tthree\n"[..]);
        for (expected, line) in [("one", 1), ("two", 1), ("three", 3)] {
            assert!(words.reach_word().unwrap());
            assert_eq!(words.next_on_line(), Some(expected.as_bytes()));
            assert_eq!(words.line_number(), line);
        }
        assert!(!words.reach_word().unwrap());
        assert_eq!(words.bytes_taken(), 22);
    }

    #[test]
    fn an_endless_line_is_refused_instead_of_filling_the_memory() {
        let mut words = Words::new(io::BufReader::new(io::repeat(b'x')));
        let refused = words.next_line().unwrap_err();
        assert!(matches!(refused, BadLine::TooLong { line: 1 }));
        assert!(words.line.len() <= LONGEST_LINE);
    }

    #[test]
    fn a_quoted_word_is_short_and_printable() {
        assert_eq!(quoted(b"1,5"), "'1,5'");
        assert_eq!(quoted(b"\x00\xff"), "'\\0\u{fffd}'");
        assert_eq!(quoted(&[b'a'; 99]), format!("'{}...'", "a".repeat(32)));
    }
}
