//! What is wrong with the text of a case or instrument file, as one line with its place.

use ron::error::{Error, Position, SpannedError};

/// Line and column, what is wrong there, and what would be right.
pub(crate) fn told(error: &SpannedError) -> String {
    let at = match error.code {
        Error::Eof => error.span.end,
        _ => error.span.start,
    };
    let Position { line, col } = at;
    format!("line {line}, column {col}: {}", wrong(&error.code))
}

fn wrong(code: &Error) -> String {
    match code {
        Error::NoSuchStructField {
            expected, found, ..
        } => format!(
            "there is no field {found} here; there are: {}",
            expected.join(", ")
        ),
        Error::MissingStructField { field, .. } => {
            format!("this part ends without its field {field}; add it")
        }
        Error::DuplicateStructField { field, .. } => {
            format!("the field {field} stands here for the second time; keep one")
        }
        Error::NoSuchEnumVariant {
            expected, found, ..
        } => format!(
            "there is no {found} here; write one of: {}",
            expected.join(", ")
        ),
        Error::ExpectedNamedStructLike(_) | Error::ExpectedStructLike => {
            "a part in round brackets should begin here".into()
        }
        Error::ExpectedDifferentStructName { found, .. } => {
            format!("a part in round brackets should begin here, not {found}")
        }
        Error::ExpectedStructLikeEnd => "a `)` is missing here".into(),
        Error::ExpectedArray => "a list in square brackets should begin here".into(),
        Error::ExpectedArrayEnd => "a `]` is missing here".into(),
        Error::ExpectedComma => "a comma is missing before this".into(),
        Error::ExpectedMapColon => "a colon is missing here".into(),
        Error::ExpectedFloat => "a number should stand here".into(),
        Error::ExpectedInteger | Error::IntegerOutOfBounds => {
            "a whole number from 0 up should stand here".into()
        }
        Error::ExpectedString => "text in double quotes should stand here".into(),
        Error::ExpectedIdentifier => "a field's name or a closing bracket should stand here".into(),
        Error::Eof => "the file ends too early: a closing bracket is missing".into(),
        Error::TrailingCharacters => "something follows the end of the file's content".into(),
        other => lower_first(&other.to_string()),
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_lowercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only its errors are of interest")]
    struct Plan {
        version: u32,
        sizes: Vec<f64>,
        name: String,
        side: Side,
    }

    #[derive(Debug, Deserialize)]
    enum Side {
        Right,
        Left,
    }

    const GOOD: &str =
        "(\n    version: 1,\n    sizes: [1, 2.5],\n    name: \"a\",\n    side: Left,\n)";

    #[track_caller]
    fn check(from: &str, to: &str, expected: &str) {
        assert!(GOOD.contains(from), "nothing to replace");
        let error = ron::from_str::<Plan>(&GOOD.replacen(from, to, 1)).unwrap_err();
        assert_eq!(told(&error), expected);
    }

    #[test]
    fn a_slip_is_told_with_its_place_and_what_would_be_right() {
        assert!(matches!(
            ron::from_str::<Plan>(GOOD).unwrap().side,
            Side::Left
        ));
        let fields = "there are: version, sizes, name, side";
        check(
            "name",
            "nom",
            &format!("line 4, column 5: there is no field nom here; {fields}"),
        );
        check(
            "    side: Left,\n",
            "",
            "line 5, column 1: this part ends without its field side; add it",
        );
        check(
            "name",
            "version",
            "line 4, column 5: the field version stands here for the second time; keep one",
        );
        check(
            "Left",
            "Up",
            "line 5, column 11: there is no Up here; write one of: Right, Left",
        );
        check(
            "2.5",
            "two",
            "line 3, column 16: a number should stand here",
        );
        check(
            "1,",
            "-1,",
            "line 2, column 15: a whole number from 0 up should stand here",
        );
        check(
            "\"a\"",
            "a",
            "line 4, column 10: text in double quotes should stand here",
        );
        check(
            "1,",
            "1",
            "line 3, column 5: a comma is missing before this",
        );
        check(
            "Left,\n)",
            "Left,",
            "line 5, column 16: the file ends too early: a closing bracket is missing",
        );
        check(
            "Left,\n)",
            "Left,\n) more",
            "line 6, column 2: something follows the end of the file's content",
        );
    }
}
