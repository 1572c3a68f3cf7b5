//! Lines of a fixed width, wrapped, with colour as an addition.

use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ContentArrangement, Table};

use super::Style;
use crate::words::one_line;

/// The width that every terminal has, in columns.
pub(crate) const WIDTH: u16 = 80;

/// Blanks before everything but headings.
const INDENT: &str = "  ";

/// What a label says besides its words.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Tone {
    Plain,
    Strong,
    Warn,
    Alarm,
}

impl Tone {
    /// The sequence that switches it on, by ECMA-48, "Select Graphic Rendition".
    fn sequence(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Strong => "\u{1b}[1m",
            Self::Warn => "\u{1b}[1;33m",
            Self::Alarm => "\u{1b}[1;31m",
        }
    }
}

/// Something said under a label.
pub(crate) struct Line {
    pub(crate) label: &'static str,
    pub(crate) text: String,
    pub(crate) tone: Tone,
}

impl Line {
    pub(super) fn plain(label: &'static str, text: String) -> Self {
        let tone = Tone::Plain;
        Self { label, text, tone }
    }

    pub(super) fn toned(label: &'static str, text: String, tone: Tone) -> Self {
        Self { label, text, tone }
    }
}

/// Lines under way to a terminal.
pub(crate) struct Page {
    style: Style,
    text: String,
}

impl Page {
    pub(crate) fn new(style: Style) -> Self {
        Self {
            style,
            text: String::new(),
        }
    }

    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// A blank line, and a heading with a rule to the edge of the page.
    pub(crate) fn heading(&mut self, words: &str) {
        let rule = "─".repeat(usize::from(WIDTH).saturating_sub(words.chars().count() + 1));
        let words = self.toned(words, Tone::Strong);
        self.push(&format!("\n{words} {rule}"));
    }

    /// A label, and beside it a text that is wrapped beside it.
    pub(crate) fn labelled(&mut self, label: Label, text: &str) {
        let indent = INDENT.len() + label.width;
        let room = WIDTH.saturating_sub(u16::try_from(indent).unwrap_or(WIDTH));
        let blanks = " ".repeat(label.width.saturating_sub(label.words.chars().count()));
        let mut beside = format!("{}{blanks}", self.toned(label.words, label.tone));
        for line in wrapped(&one_line(text), room) {
            self.push(&format!("{INDENT}{beside}{line}"));
            beside = " ".repeat(label.width);
        }
    }

    /// Lines whose labels have this room.
    pub(super) fn lines(&mut self, room: usize, lines: &[Line]) {
        for line in lines {
            self.labelled(Label::new(line.label, room, line.tone), &line.text);
        }
    }

    /// A text, wrapped.
    pub(crate) fn paragraph(&mut self, text: &str) {
        self.labelled(Label::none(), text);
    }

    /// Rows under their heads; columns are set to the right, but those named in `left`.
    pub(crate) fn table(&mut self, heads: &[&str], left: &[usize], rows: Vec<Vec<String>>) {
        let mut table = bare_table(WIDTH - 2);
        table.set_header(heads.to_vec()).add_rows(rows);
        for (index, column) in table.column_iter_mut().enumerate() {
            column.set_padding((0, 2));
            if !left.contains(&index) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        for line in table.lines() {
            self.push(&format!("{INDENT}{line}"));
        }
    }

    fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn toned(&self, words: &str, tone: Tone) -> String {
        match (self.style, tone) {
            (Style::Plain, _) | (_, Tone::Plain) => words.into(),
            (Style::Coloured, _) => format!("{}{words}\u{1b}[0m", tone.sequence()),
        }
    }
}

/// What stands before a text.
pub(crate) struct Label<'a> {
    pub(crate) words: &'a str,
    /// Columns that it takes, blanks after it included.
    pub(crate) width: usize,
    pub(crate) tone: Tone,
}

impl<'a> Label<'a> {
    pub(crate) fn new(words: &'a str, width: usize, tone: Tone) -> Self {
        Self { words, width, tone }
    }

    fn none() -> Self {
        Self::new("", 0, Tone::Plain)
    }
}

/// `text` in lines of at most `room` columns; words that are too long are cut.
fn wrapped(text: &str, room: u16) -> Vec<String> {
    let mut table = bare_table(room);
    table.add_row([text]);
    for column in table.column_iter_mut() {
        column.set_padding((0, 0));
    }
    table.lines().collect()
}

fn bare_table(width: u16) -> Table {
    let mut table = Table::new();
    table
        .load_style(NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(width);
    table
}
