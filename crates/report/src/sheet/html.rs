//! Markup that cannot be broken from outside.
//!
//! Names of elements and attributes are written here and nowhere else comes markup from; every text and
//! every value of an attribute is escaped. What is not allowed in a document at all, the control
//! characters, becomes a blank.

use std::fmt::Write as _;

/// An attribute: its name and its value, as it is meant, not yet escaped.
pub(crate) type Attribute<'a> = (&'static str, &'a str);

/// Elements and texts, one after the other.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub(crate) struct Html(String);

impl Html {
    /// Nothing yet.
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// The markup.
    pub(crate) fn into_string(self) -> String {
        self.0
    }

    /// A text.
    pub(crate) fn text(&mut self, text: &str) {
        push_escaped(&mut self.0, text);
    }

    /// An element with what `fill` puts into it.
    pub(crate) fn element(
        &mut self,
        name: &'static str,
        attributes: &[Attribute],
        fill: impl FnOnce(&mut Self),
    ) {
        self.open(name, attributes);
        fill(self);
        let _infallible = write!(self.0, "</{name}>");
        if is_block(name) {
            self.0.push('\n');
        }
    }

    /// An element that holds a text and no more.
    pub(crate) fn leaf(&mut self, name: &'static str, attributes: &[Attribute], text: &str) {
        self.element(name, attributes, |inside| inside.text(text));
    }

    /// An element that holds nothing and is not closed, such as `meta`.
    pub(crate) fn void(&mut self, name: &'static str, attributes: &[Attribute]) {
        self.open(name, attributes);
        self.0.push('\n');
    }

    /// What stands between `<style>` and its end: our own, and no text from outside.
    pub(crate) fn style(&mut self, rules: &str) {
        debug_assert!(!rules.contains('<'), "rules cannot end their element");
        let _infallible = writeln!(self.0, "<style>\n{rules}</style>");
    }

    /// A drawing that our own plots made, told to those who do not see it as `alternative`.
    ///
    /// Its size gives way to that of the page; what lies outside its view box is not seen.
    pub(crate) fn drawing(&mut self, svg: &str, alternative: &str) {
        let Some((head, rest)) = svg.split_once('>') else {
            return;
        };
        let view = head
            .split_once("viewBox=\"")
            .and_then(|(_, rest)| rest.split_once('"'))
            .map_or("0 0 1 1", |(view, _)| view);
        self.open(
            "svg",
            &[
                ("viewBox", view),
                ("role", "img"),
                ("aria-label", alternative),
            ],
        );
        self.0.push_str(rest);
    }

    /// Other markup, after what is here.
    pub(crate) fn append(&mut self, other: Self) {
        self.0.push_str(&other.0);
    }

    fn open(&mut self, name: &str, attributes: &[Attribute]) {
        let _infallible = write!(self.0, "<{name}");
        for (attribute, value) in attributes {
            let _infallible = write!(self.0, " {attribute}=\"");
            push_escaped(&mut self.0, value);
            self.0.push('"');
        }
        self.0.push('>');
    }
}

/// Whether a line may end after the element without a reader seeing it.
fn is_block(name: &str) -> bool {
    !matches!(
        name,
        "a" | "b" | "em" | "span" | "strong" | "sub" | "sup" | "dt" | "td" | "th"
    )
}

fn push_escaped(markup: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => markup.push_str("&amp;"),
            '<' => markup.push_str("&lt;"),
            '>' => markup.push_str("&gt;"),
            '"' => markup.push_str("&quot;"),
            '\'' => markup.push_str("&#39;"),
            letter if is_forbidden(letter) => markup.push(' '),
            letter => markup.push(letter),
        }
    }
}

/// Control characters, and those that turn the direction of what follows them.
fn is_forbidden(letter: char) -> bool {
    let turns = matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    (letter.is_control() && letter != '\n') || turns
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(fill: impl FnOnce(&mut Html)) -> String {
        let mut html = Html::new();
        fill(&mut html);
        html.into_string()
    }

    #[test]
    fn a_text_is_never_markup() {
        let text = made(|html| html.text("<script>alert('1 & \"2\"')</script>"));
        assert_eq!(
            text,
            "&lt;script&gt;alert(&#39;1 &amp; &quot;2&quot;&#39;)&lt;/script&gt;"
        );
    }

    #[test]
    fn an_attribute_cannot_be_left_from_inside() {
        let tag = made(|html| html.void("img", &[("alt", "\"><script>")]));
        assert_eq!(tag, "<img alt=\"&quot;&gt;&lt;script&gt;\">\n");
    }

    #[test]
    fn elements_close_in_their_order() {
        let nested = made(|html| {
            html.element("p", &[("class", "a")], |p| {
                p.text("one ");
                p.leaf("strong", &[], "two");
            });
        });
        assert_eq!(nested, "<p class=\"a\">one <strong>two</strong></p>\n");
    }

    #[test]
    fn control_characters_become_blanks() {
        assert_eq!(
            made(|html| html.text("a\u{0}b\u{1b}[31m\nc\u{202e}d")),
            "a b [31m\nc d"
        );
    }

    #[test]
    fn a_drawing_keeps_its_view_and_gains_its_words() {
        let svg =
            "<svg width=\"4\" height=\"2\" viewBox=\"0 0 4 2\" xmlns=\"x\">\n<rect/>\n</svg>\n";
        let drawn = made(|html| html.drawing(svg, "a <box>"));
        assert!(drawn.contains("viewBox=\"0 0 4 2\" role=\"img\" aria-label=\"a &lt;box&gt;\">"));
        assert!(drawn.ends_with("<rect/>\n</svg>\n") && !drawn.contains("width=\"4\""));
    }
}
