//! The report's own markup read back into a tree, from which paper is set.

use std::borrow::Cow;

use quick_xml::Reader;
use quick_xml::escape::unescape;
use quick_xml::events::{BytesStart, Event};

/// Elements that stand alone, without an end of their own.
const ALONE: [&str; 2] = ["br", "meta"];

/// An element with what is in it.
#[derive(Debug, Clone, Default)]
pub(super) struct Element {
    pub(super) name: String,
    attributes: Vec<(String, String)>,
    pub(super) children: Vec<Node>,
}

/// A part of an element.
#[derive(Debug, Clone)]
pub(super) enum Node {
    Element(Element),
    Text(String),
}

impl Element {
    /// The value of an attribute.
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// The number of an attribute; a unit behind it is passed over.
    pub(super) fn number(&self, name: &str) -> Option<f64> {
        let text = self.attribute(name)?;
        let end = text.find(|c: char| !matches!(c, '0'..='9' | '.' | '-')).unwrap_or(text.len());
        text[..end].parse().ok()
    }

    /// Whether it is of a class.
    pub(super) fn is(&self, class: &str) -> bool {
        self.attribute("class").is_some_and(|classes| classes.split_whitespace().any(|one| one == class))
    }

    /// Its elements, without the text between them.
    pub(super) fn elements(&self) -> impl Iterator<Item = &Self> {
        self.children.iter().filter_map(|node| match node {
            Node::Element(element) => Some(element),
            Node::Text(_) => None,
        })
    }

    /// The first element of a name in it, at any depth.
    pub(super) fn find(&self, wanted: &dyn Fn(&Self) -> bool) -> Option<&Self> {
        self.elements().find_map(|one| if wanted(one) { Some(one) } else { one.find(wanted) })
    }

    /// All its text, with single spaces.
    pub(super) fn text(&self) -> String {
        let mut out = String::new();
        self.add_text(&mut out);
        out.split([' ', '\n', '\t']).filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
    }

    fn add_text(&self, out: &mut String) {
        for node in &self.children {
            match node {
                Node::Text(text) => out.push_str(text),
                Node::Element(element) => element.add_text(out),
            }
        }
    }

    /// Calls for each element in it, at any depth, in order.
    pub(super) fn walk<'a>(&'a self, see: &mut dyn FnMut(&'a Self)) {
        for element in self.elements() {
            see(element);
            element.walk(see);
        }
    }

    /// Puts `prefix` before every name of a place in it and before every link to one, so that several pages may stand in one file.
    pub(super) fn prefix_places(&mut self, prefix: &str) {
        for (name, value) in &mut self.attributes {
            if name == "id" {
                value.insert_str(0, prefix);
            } else if name == "href" && value.starts_with('#') {
                value.insert_str(1, prefix);
            }
        }
        for node in &mut self.children {
            if let Node::Element(element) = node {
                element.prefix_places(prefix);
            }
        }
    }
}

/// The tree of a page.
///
/// # Errors
/// It is not markup as this program writes it.
pub(super) fn read(markup: &str) -> Result<Element, String> {
    // A script is no markup, and nothing on paper.
    let script = markup.split_once("<script>").and_then(|(_, rest)| rest.split_once("</script>"));
    let markup =
        script.map_or(Cow::Borrowed(markup), |(script, _)| Cow::Owned(markup.replacen(script, "", 1)));
    let mut reader = Reader::from_str(&markup);
    reader.config_mut().check_end_names = false;
    let mut open = vec![Element::default()];
    loop {
        match reader.read_event().map_err(|error| error.to_string())? {
            Event::Start(start) => {
                let element = element(&start)?;
                if ALONE.contains(&element.name.as_str()) {
                    put(&mut open, Node::Element(element));
                } else {
                    open.push(element);
                }
            }
            Event::Empty(start) => put(&mut open, Node::Element(element(&start)?)),
            Event::End(_) => {
                let Some(done) = open.pop().filter(|_| !open.is_empty()) else {
                    return Err("an element ends that did not begin".to_owned());
                };
                put(&mut open, Node::Element(done));
            }
            Event::Text(text) => push_text(&mut open, &text.decode().map_err(|error| error.to_string())?),
            Event::GeneralRef(reference) => {
                let name = reference.decode().map_err(|error| error.to_string())?;
                let letter = match reference.resolve_char_ref().map_err(|error| error.to_string())? {
                    Some(letter) => letter,
                    None => named(&name).ok_or_else(|| format!("the entity {name} is not known"))?,
                };
                push_text(&mut open, letter.encode_utf8(&mut [0; 4]));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    match open.pop() {
        Some(root) if open.is_empty() => Ok(root),
        _ => Err("an element does not end".to_owned()),
    }
}

fn named(name: &str) -> Option<char> {
    Some(match name {
        "amp" => '&',
        "lt" => '<',
        "gt" => '>',
        "quot" => '"',
        "apos" => '\'',
        "nbsp" => '\u{a0}',
        _ => return None,
    })
}

fn element(start: &BytesStart<'_>) -> Result<Element, String> {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let mut attributes = Vec::new();
    for attribute in start.html_attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| error.to_string())?;
        let value = String::from_utf8_lossy(&attribute.value);
        let value = unescape(&value).map_err(|error| error.to_string())?.into_owned();
        attributes.push((text(attribute.key.as_ref()), value));
    }
    Ok(Element { name: text(start.name().as_ref()), attributes, children: Vec::new() })
}

fn put(open: &mut [Element], node: Node) {
    if let Some(last) = open.last_mut() {
        last.children.push(node);
    }
}

/// Text in pieces, as entities break it, is one text.
fn push_text(open: &mut [Element], more: &str) {
    let Some(last) = open.last_mut() else { return };
    match last.children.last_mut() {
        Some(Node::Text(text)) => text.push_str(more),
        _ => last.children.push(Node::Text(more.to_owned())),
    }
}
