//! What every sheet is: a title, sections one after the other, and small print; one file that asks for
//! nothing from anywhere and runs nothing.
//!
//! Of what a sheet is about nothing is known here.

use super::html::Html;
use crate::CAUTION;

/// How a sheet looks, on a screen by day and by night, and in print.
const RULES: &str = include_str!("style.css");

/// Allows a sheet its own style and the pictures it holds, and nothing else: no script, no other file.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// A sheet.
pub(crate) struct Skeleton<'a> {
    /// What it is, in a few words: heading, and name of the window.
    pub(crate) title: &'a str,
    /// What it is of, a paragraph each.
    pub(crate) lead: Vec<String>,
    /// What it says.
    pub(crate) sections: Vec<Section>,
}

/// A part under a heading of its own.
pub(crate) struct Section {
    /// Its name for links, alone of its kind on the sheet.
    pub(crate) id: &'static str,
    /// What it answers.
    pub(crate) heading: String,
    /// The same in a word or two, for the list of sections.
    pub(crate) short: String,
    /// Its room in print.
    pub(crate) room: Room,
    /// What stands in it.
    pub(crate) body: Html,
}

/// How broad a section is in print, where a page has two columns.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Room {
    /// One column.
    Column,
    /// The whole page.
    Page,
}

impl Skeleton<'_> {
    /// The sheet as a document.
    pub(crate) fn document(self) -> String {
        let mut page = Html::new();
        page.element("html", &[("lang", "en")], |html| {
            html.element("head", &[], |head| self.head(head));
            html.element("body", &[], |body| self.body(body));
        });
        format!("<!DOCTYPE html>\n{}", page.into_string())
    }

    fn head(&self, head: &mut Html) {
        head.void("meta", &[("charset", "utf-8")]);
        let policy = ("http-equiv", "Content-Security-Policy");
        head.void("meta", &[policy, ("content", POLICY)]);
        let wide = "width=device-width, initial-scale=1";
        head.void("meta", &[("name", "viewport"), ("content", wide)]);
        head.void(
            "meta",
            &[("name", "color-scheme"), ("content", "light dark")],
        );
        head.leaf("title", &[], self.title);
        head.style(RULES);
    }

    fn body(self, body: &mut Html) {
        body.element("header", &[], |header| {
            header.leaf("h1", &[], self.title);
            for paragraph in &self.lead {
                header.leaf("p", &[], paragraph);
            }
        });
        body.element("nav", &[("aria-label", "Sections of this sheet")], |nav| {
            nav.element("ul", &[], |list| {
                for section in &self.sections {
                    let target = format!("#{}", section.id);
                    list.element("li", &[], |item| {
                        item.leaf("a", &[("href", &target)], &section.short);
                    });
                }
            });
        });
        body.element("main", &[], |main| {
            for section in self.sections {
                section.put(main);
            }
            main.element("footer", &[], |footer| footer.leaf("p", &[], CAUTION));
        });
    }
}

impl Section {
    fn put(self, main: &mut Html) {
        let heading = format!("{}-heading", self.id);
        let class = match self.room {
            Room::Column => "column",
            Room::Page => "page",
        };
        let attributes = [
            ("id", self.id),
            ("class", class),
            ("aria-labelledby", heading.as_str()),
        ];
        main.element("section", &attributes, |section| {
            section.leaf("h2", &[("id", &heading)], &self.heading);
            section.append(self.body);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn document() -> String {
        let mut body = Html::new();
        body.leaf("p", &[], "six < seven");
        Skeleton {
            title: "A & B",
            lead: vec!["of nothing".into()],
            sections: vec![Section {
                id: "only",
                heading: "What is there?".into(),
                short: "there".into(),
                room: Room::Column,
                body,
            }],
        }
        .document()
    }

    #[test]
    fn a_document_has_language_title_caution_and_one_first_heading() {
        let document = document();
        assert!(document.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
        assert!(document.contains("<title>A &amp; B</title>"));
        assert_eq!(document.matches("<h1>").count(), 1);
        assert!(document.contains(CAUTION) && document.contains("six &lt; seven"));
    }

    #[test]
    fn a_section_is_named_by_its_heading_and_reached_by_a_link() {
        let document = document();
        assert!(document.contains("<a href=\"#only\">there</a>"));
        assert!(document.contains("aria-labelledby=\"only-heading\""));
        assert!(document.contains("<h2 id=\"only-heading\">What is there?</h2>"));
    }

    #[test]
    fn a_sheet_runs_nothing_and_asks_for_nothing() {
        let document = document();
        for word in ["<script", "<link", "@import", "url(", "http://", "https://"] {
            assert!(!document.contains(word), "{word}");
        }
        assert!(document.contains("default-src &#39;none&#39;"));
    }
}
