//! What stands in the sections of any sheet: labelled facts, tables, figures, pictures, verdicts.

use super::html::Html;
use super::picture::Picture;
use crate::words::one_line;

/// How grave a word is; said by the word itself, by its weight and frame, and by colour at last.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Tone {
    Plain,
    Warn,
    Alarm,
}

impl Tone {
    fn class(self) -> &'static str {
        match self {
            Self::Plain => "verdict",
            Self::Warn => "verdict warn",
            Self::Alarm => "verdict alarm",
        }
    }
}

/// A label, and what is said of it.
pub(crate) struct Fact {
    pub(crate) label: String,
    pub(crate) text: String,
    pub(crate) tone: Tone,
}

impl Fact {
    pub(crate) fn new(label: impl Into<String>, text: impl Into<String>) -> Self {
        Self::toned(label, text, Tone::Plain)
    }

    pub(crate) fn toned(label: impl Into<String>, text: impl Into<String>, tone: Tone) -> Self {
        Self {
            label: label.into(),
            text: text.into(),
            tone,
        }
    }
}

/// Facts one below the other.
pub(crate) fn facts(html: &mut Html, facts: &[Fact]) {
    described(html, "facts", facts);
}

/// Few facts side by side, their texts large.
pub(crate) fn numbers(html: &mut Html, facts: &[Fact]) {
    described(html, "numbers", facts);
}

fn described(html: &mut Html, class: &str, facts: &[Fact]) {
    html.element("dl", &[("class", class)], |list| {
        for fact in facts {
            list.element("div", &[], |pair| {
                pair.leaf("dt", &[], &one_line(&fact.label));
                pair.element("dd", &[], |told| match fact.tone {
                    Tone::Plain => told.text(&one_line(&fact.text)),
                    tone => {
                        told.leaf("strong", &[("class", tone.class())], &one_line(&fact.text));
                    }
                });
            });
        }
    });
}

/// What is said under words that tell how grave it is, one below the other.
pub(crate) fn verdicts(html: &mut Html, verdicts: &[Verdict]) {
    html.element("ul", &[("class", "verdicts")], |list| {
        for verdict in verdicts {
            list.element("li", &[], |item| {
                let class = [("class", verdict.tone.class())];
                item.leaf("strong", &class, verdict.word);
                item.text(" ");
                item.text(&one_line(&verdict.text));
                if !verdict.source.is_empty() {
                    item.text(" ");
                    let source = format!("[{}]", one_line(&verdict.source));
                    item.leaf("span", &[("class", "source")], &source);
                }
            });
        }
    });
}

/// A word that tells how grave something is, and that.
pub(crate) struct Verdict {
    pub(crate) word: &'static str,
    pub(crate) tone: Tone,
    pub(crate) text: String,
    /// Where it comes from; empty where there is nothing to say of that.
    pub(crate) source: String,
}

pub(crate) fn paragraph(html: &mut Html, text: &str) {
    html.leaf("p", &[], &one_line(text));
}

/// Small print.
pub(crate) fn remark(html: &mut Html, text: &str) {
    html.leaf("p", &[("class", "remark")], &one_line(text));
}

/// Things said one below the other.
pub(crate) fn list(html: &mut Html, items: &[String]) {
    html.element("ul", &[("class", "list")], |list| {
        for item in items {
            list.leaf("li", &[], &one_line(item));
        }
    });
}

/// Rows under heads; the first cell of a row is its own head.
pub(crate) struct Table<'a> {
    /// What it shows, with how to read it.
    pub(crate) caption: &'a str,
    pub(crate) heads: Vec<String>,
    /// The columns that hold words; those of numbers are set to the right.
    pub(crate) words: &'a [usize],
    /// Those of them whose words stay on one line.
    pub(crate) brief: &'a [usize],
    pub(crate) rows: Vec<Row>,
}

/// A row.
pub(crate) struct Row {
    pub(crate) cells: Vec<String>,
    pub(crate) standing: Standing,
}

/// What a row is among the others; its cells say so too.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Standing {
    Plain,
    /// The one that the plan has.
    Own,
    /// One that lacks something.
    Short,
}

impl From<Vec<String>> for Row {
    fn from(cells: Vec<String>) -> Self {
        Self {
            cells,
            standing: Standing::Plain,
        }
    }
}

impl Table<'_> {
    pub(crate) fn put(&self, html: &mut Html) {
        html.element("div", &[("class", "table")], |frame| {
            frame.element("table", &[], |table| {
                table.leaf("caption", &[], &one_line(self.caption));
                table.element("thead", &[], |head| {
                    head.element("tr", &[], |row| {
                        for (k, words) in self.heads.iter().enumerate() {
                            let attributes = [("scope", "col"), ("class", self.class(k))];
                            row.leaf("th", &attributes, &one_line(words));
                        }
                    });
                });
                table.element("tbody", &[], |body| {
                    for row in &self.rows {
                        self.row(body, row);
                    }
                });
            });
        });
    }

    fn row(&self, body: &mut Html, row: &Row) {
        let class = match row.standing {
            Standing::Plain => "plain",
            Standing::Own => "own",
            Standing::Short => "short",
        };
        body.element("tr", &[("class", class)], |line| {
            for (k, cell) in row.cells.iter().enumerate() {
                let class = ("class", self.class(k));
                if k == 0 {
                    line.leaf("th", &[("scope", "row"), class], &one_line(cell));
                } else {
                    line.leaf("td", &[class], &one_line(cell));
                }
            }
        });
    }

    fn class(&self, column: usize) -> &'static str {
        if self.brief.contains(&column) {
            "words brief"
        } else if self.words.contains(&column) {
            "words"
        } else {
            "number"
        }
    }
}

/// A drawing and what it says.
pub(crate) struct Figure<'a> {
    pub(crate) svg: &'a str,
    /// What is seen, for those who do not see it.
    pub(crate) alternative: &'a str,
    pub(crate) caption: &'a str,
    /// Of what kind it is: a word for the style.
    pub(crate) kind: &'static str,
}

impl Figure<'_> {
    pub(crate) fn put(&self, html: &mut Html) {
        html.element("figure", &[("class", self.kind)], |figure| {
            figure.drawing(self.svg, &one_line(self.alternative));
            figure.leaf("figcaption", &[], &one_line(self.caption));
        });
    }
}

/// Words and tables beside figures; one below the other where the page is narrow.
pub(crate) fn beside(html: &mut Html, told: Html, shown: Html) {
    html.element("div", &[("class", "beside")], |both| {
        both.element("div", &[("class", "told")], |side| side.append(told));
        both.element("div", &[("class", "shown")], |side| side.append(shown));
    });
}

/// Pictures side by side, each under its name.
pub(crate) fn pictures(html: &mut Html, pictures: &[Picture]) {
    html.element("div", &[("class", "pictures")], |row| {
        for picture in pictures {
            let name = one_line(picture.name());
            let [width, height] = picture.size().map(|pixels| pixels.to_string());
            let alternative = format!("Picture {name}, given with this sheet");
            row.element("figure", &[("class", "picture")], |figure| {
                figure.void(
                    "img",
                    &[
                        ("src", &picture.address()),
                        ("width", &width),
                        ("height", &height),
                        ("alt", &alternative),
                    ],
                );
                figure.leaf("figcaption", &[], &name);
            });
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_tells_what_heads_what() {
        let mut html = Html::new();
        let table = Table {
            caption: "Apples",
            heads: vec!["kind".into(), "g".into()],
            words: &[0],
            brief: &[],
            rows: vec![Row {
                cells: vec!["red <1>".into(), "7".into()],
                standing: Standing::Own,
            }],
        };
        table.put(&mut html);
        let markup = html.into_string();
        assert!(markup.contains("<caption>Apples</caption>"));
        assert!(markup.contains("<th scope=\"col\" class=\"number\">g</th>"));
        assert!(markup.contains("<tr class=\"own\"><th scope=\"row\" class=\"words\">red &lt;1&gt;</th><td class=\"number\">7</td></tr>"));
    }

    #[test]
    fn what_is_grave_says_so_in_a_word() {
        let mut html = Html::new();
        verdicts(
            &mut html,
            &[Verdict {
                word: "STOP",
                tone: Tone::Alarm,
                text: "a wall\nis thin".into(),
                source: "read <somewhere>".into(),
            }],
        );
        let markup = html.into_string();
        assert!(markup.contains("<strong class=\"verdict alarm\">STOP</strong> a wall is thin"));
        assert!(markup.contains("[read &lt;somewhere&gt;]"));
    }
}
