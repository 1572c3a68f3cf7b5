//! The sheet of a study: what its report on the terminal says, with its figures.

use std::io;

use super::html::Html;
use super::parts::{self, Figure, Table};
use super::skeleton::{Room, Section, Skeleton};
use crate::study::{Block, Subject, Told};
use crate::terminal::capitalised;

/// Names for links, one for each section; what comes after the last shares its section.
const PLACES: [&str; 8] = [
    "study", "part-1", "part-2", "part-3", "part-4", "part-5", "part-6", "part-7",
];

/// The whole document.
///
/// # Errors
/// When the plotting library refuses.
pub(super) fn document(study: &dyn Told, subject: &Subject) -> io::Result<String> {
    let title = format!("{}: {}", study.heading(), subject.bone);
    let mut parts = vec![Part::new(study.heading())];
    for block in study.blocks() {
        if let Block::Heading(words) = &block
            && parts.len() + 1 < PLACES.len()
        {
            // What goes on under the same words goes on in the same section.
            if parts.last().is_none_or(|part| part.heading != *words) {
                parts.push(Part::new(words));
            }
        } else if let Some(part) = parts.last_mut() {
            part.put(&block);
        }
    }
    parts.extend(figures(study, subject)?);
    let places = PLACES
        .iter()
        .zip(parts.into_iter().filter(Part::says_something));
    let skeleton = Skeleton {
        title: &title,
        lead: vec![format!(
            "{}; angles {}, on the {}",
            capitalised(&subject.bone),
            subject.orientation,
            subject.reference
        )],
        sections: places.map(|(id, part)| part.section(id)).collect(),
    };
    Ok(skeleton.document())
}

/// A section under way.
struct Part {
    heading: String,
    body: Html,
    blocks: usize,
}

impl Part {
    fn new(heading: &str) -> Self {
        Self {
            heading: heading.into(),
            body: Html::new(),
            blocks: 0,
        }
    }

    fn says_something(&self) -> bool {
        self.blocks > 0
    }

    fn put(&mut self, block: &Block) {
        self.blocks += 1;
        match block {
            Block::Heading(words) => parts::paragraph(&mut self.body, words),
            Block::Paragraph(words) => parts::paragraph(&mut self.body, words),
            Block::Table(heads, left, rows) => {
                let words: Vec<_> = (0..*left).collect();
                let whole = |head: &String| head.replace("-\n", "").replace('\n', " ");
                let table = Table {
                    caption: "",
                    heads: heads.iter().map(whole).collect(),
                    words: &words,
                    brief: &[],
                    rows: rows.iter().cloned().map(Into::into).collect(),
                };
                table.put(&mut self.body);
            }
        }
    }

    fn section(self, id: &'static str) -> Section {
        Section {
            id,
            short: self.heading.clone(),
            heading: self.heading,
            room: Room::Page,
            body: self.body,
        }
    }
}

/// The study's drawings, where it has some.
fn figures(study: &dyn Told, subject: &Subject) -> io::Result<Option<Part>> {
    let mut part = Part::new("Drawn");
    for (name, content) in study.files(subject)? {
        let Some(name) = name.strip_suffix(".svg") else {
            continue;
        };
        let svg = String::from_utf8(content).map_err(io::Error::other)?;
        let shown = name.replace('-', " ");
        let figure = Figure {
            svg: &svg,
            alternative: &format!(
                "{}: {shown}; its numbers are in the tables",
                study.heading()
            ),
            caption: &capitalised(&shown),
            kind: "study",
        };
        figure.put(&mut part.body);
        part.blocks += 1;
    }
    Ok(part.says_something().then_some(part))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    struct Sizes;

    impl Told for Sizes {
        fn name(&self) -> &'static str {
            "sizes"
        }

        fn heading(&self) -> &'static str {
            "Sizes tried"
        }

        fn blocks(&self) -> Vec<Block> {
            let heads = ["cup", "incli-\nnation"].map(String::from);
            vec![
                Block::Paragraph("Two sizes, 48 < 52.".into()),
                Block::Heading("What they cover".into()),
                Block::Table(heads.into(), 1, vec![vec!["48".into(), "40.0°".into()]]),
                Block::Heading("Nothing under this".into()),
            ]
        }

        fn document(&self) -> serde_json::Result<Value> {
            Ok(json!({}))
        }

        fn files(&self, _: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
            let drawing = b"<svg viewBox=\"0 0 8 9\" width=\"8\"><path d=\"M0 0\"/></svg>".to_vec();
            Ok(vec![
                ("sizes.csv".into(), b"a,b".to_vec()),
                ("over-size.svg".into(), drawing),
            ])
        }
    }

    fn sheet() -> String {
        let subject = Subject {
            bone: "left hip of <script>.stl".into(),
            orientation: "radiographic".into(),
            reference: "anterior pelvic plane".into(),
        };
        document(&Sizes, &subject).unwrap()
    }

    #[test]
    fn each_heading_begins_a_section_and_an_empty_one_is_left_out() {
        let sheet = sheet();
        assert!(sheet.contains("<h2 id=\"study-heading\">Sizes tried</h2>"));
        assert!(sheet.contains("<h2 id=\"part-1-heading\">What they cover</h2>"));
        assert!(sheet.contains("<h2 id=\"part-2-heading\">Drawn</h2>"));
        assert!(!sheet.contains("Nothing under this"));
    }

    #[test]
    fn tables_have_whole_words_and_drawings_their_view() {
        let sheet = sheet();
        assert!(sheet.contains(">inclination</th>") && sheet.contains(">40.0°</td>"));
        assert!(sheet.contains("viewBox=\"0 0 8 9\"") && sheet.contains(">Over size</figcaption>"));
        assert!(!sheet.contains("a,b"), "tables for machines are not on it");
    }

    #[test]
    fn what_comes_from_outside_is_no_markup() {
        let sheet = sheet();
        assert!(!sheet.contains("<script") && sheet.contains("48 &lt; 52"));
    }
}
