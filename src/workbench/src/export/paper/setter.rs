//! Sets the parts of the report: its elements as pieces of pages, with their place in the structure.

use std::collections::HashSet;
use std::num::NonZeroU16;
use std::rc::Rc;

use krilla::tagging::{ListNumbering, Tag};

use super::drawing::{self, Parts, is_blank};
use super::faces::Faces;
use super::lines::{Align, Inline, RunStyle, lines};
use super::piece::{ACCENT, FAINT, HAIR, INK, MM, Mark, Piece, RULE, SOFT, Style, What, beside, stack};
use super::read::{Element, Node};
use super::tags::{Place, Slot, Tags};

/// Where something is set: the width that it has, how text looks there, its place in the structure, and by how many levels
/// bookmarks stand above their headings.
#[derive(Debug, Clone, Copy)]
pub(super) struct At {
    pub(super) width: f64,
    pub(super) style: Style,
    pub(super) place: Place,
    pub(super) raised: u16,
}

/// A link: where it leads, what it says of itself, and its place in the reading order.
#[derive(Debug)]
pub(super) struct Link {
    pub(super) href: String,
    pub(super) says: String,
    pub(super) slot: Slot,
}

/// What is gathered while a document is set.
pub(super) struct Setter<'a> {
    pub(super) faces: &'a Faces,
    pub(super) tags: Tags,
    pub(super) links: Vec<Link>,
    /// All places of the document.
    places: HashSet<String>,
    figures: usize,
    prefix: String,
}

/// Width of a piece of grain.
const GRAIN: f64 = 60.0 * MM;

/// Elements that stand within a line.
const WITHIN: [&str; 8] = ["a", "b", "bdi", "br", "em", "span", "svg", "sup"];

fn is_within(node: &Node) -> bool {
    match node {
        Node::Text(_) => true,
        Node::Element(element) => WITHIN.contains(&element.name.as_str()),
    }
}

impl<'a> Setter<'a> {
    pub(super) fn new(faces: &'a Faces) -> Self {
        Self {
            faces,
            tags: Tags::default(),
            links: Vec::new(),
            places: HashSet::new(),
            figures: 0,
            prefix: String::new(),
        }
    }

    /// Begins a page: links find its places wherever they are, and its figures are numbered anew behind its prefix.
    pub(super) fn begin(&mut self, page: &Element, prefix: &str) {
        self.figures = 0;
        prefix.clone_into(&mut self.prefix);
        page.walk(&mut |element| {
            self.places.extend(element.attribute("id").map(str::to_owned));
        });
    }

    /// All that is in an element, one under the other.
    pub(super) fn blocks(&mut self, within: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let mut out = Vec::new();
        let mut nodes = within.children.iter().peekable();
        while let Some(node) = nodes.next() {
            if is_blank(node) {
                continue;
            }
            match node {
                Node::Element(element) if !is_within(node) => out.extend(self.block(element, at, parts)),
                Node::Element(element) if element.name == "svg" && within.name != "p" => {
                    out.extend(self.drawing(element, at, parts, false));
                }
                _ => {
                    let mut run = vec![node.clone()];
                    while let Some(next) = nodes.next_if(|next| is_within(next)) {
                        run.push(next.clone());
                    }
                    let place = self.tags.place(at.place, Tag::P);
                    let inlines = self.inlines(&run, at.style, place, None, parts);
                    out.extend(self.paragraph(&inlines, at.width, Align::Left));
                }
            }
        }
        out
    }

    /// An element that does not stand within a line.
    fn block(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let mut pieces = match element.name.as_str() {
            "h1" | "h2" | "h3" | "h4" => vec![self.heading(element, at, parts)],
            "p" => self.text(element, at, parts),
            "ul" | "ol" => self.list(element, at, parts),
            "dl" => self.terms(element, at, parts),
            "table" => self.table(element, at, parts),
            "figure" => vec![self.figure(element, at, parts)],
            "nav" if element.is("contents") => self.contents(element, at, parts),
            // Ways to other pages are for the screen; parts of drawings are shown where they are asked for.
            "nav" | "style" | "script" | "head" => Vec::new(),
            "article" => self.chapter(element, at, parts, "h1"),
            "section" if element.is("evidence") => self.chapter(element, At { raised: 1, ..at }, parts, "h2"),
            "section" if element.is("common") => self.chapter(element, At { raised: 1, ..at }, parts, ""),
            "div" if element.is("card") => vec![self.card(element, at, parts)],
            "div" if element.is("findings") => self.findings(element, at, parts),
            "div" if element.is("pair") => self.columns(element, at, parts, 2),
            "div" if element.is("sheet") => self.columns(element, at, parts, 4),
            "div" if element.is("small") => self.blocks(
                element,
                At { style: Style { weight: at.style.weight, ..Style::SMALL }, ..at },
                parts,
            ),
            _ => self.blocks(element, at, parts),
        };
        if let (Some(id), Some(first)) = (element.attribute("id"), pieces.first_mut()) {
            first.marks.push(Mark::new(0.0, 0.0, What::Anchor(id.to_owned())));
        }
        pieces
    }

    /// A part that begins a page; the heading of name `heading` stands over its pages.
    fn chapter(&mut self, element: &Element, at: At, parts: &Parts<'_>, heading: &str) -> Vec<Piece> {
        let place = self.tags.place(at.place, Tag::Section);
        let mut pieces = self.blocks(element, At { place, ..at }, parts);
        let title = element.find(&|one| one.name == heading).map(Element::text);
        let title = title.unwrap_or_else(|| "What holds for all films".to_owned());
        if let Some(first) = pieces.first_mut() {
            first.fresh = true;
            first.marks.push(Mark::new(0.0, 0.0, What::Head(title)));
        }
        pieces
    }

    fn heading(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Piece {
        let level: u16 = element.name[1..].parse().unwrap_or(6);
        let (style, before, after) = match level {
            1 => (Style::TEXT.sized(19.0, 23.0), 0.0, 2.0 * MM),
            2 => (Style::TEXT.sized(12.4, 16.0), 7.0 * MM, 2.2 * MM),
            3 => (Style::TEXT.sized(10.2, 13.6), 5.0 * MM, 1.2 * MM),
            _ => (Style::TEXT, 3.4 * MM, 0.8 * MM),
        };
        let text = element.text();
        let kind = Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(text.clone()));
        let place = self.tags.place(at.place, kind);
        let inlines = self.inlines(&element.children, style.strong(), place, None, parts);
        let mut piece = stack(lines(self.faces, &inlines, at.width, Align::Left));
        (piece.before, piece.after, piece.keep) = (before, after, true);
        if level == 2 {
            piece.shift(0.0, 2.0 * MM);
            piece.height += 2.0 * MM;
            piece.marks.push(rule(0.0, 0.0, at.width, 1.1, INK));
        }
        let entry = level.saturating_sub(at.raised).max(1);
        if entry <= 2 {
            piece.marks.push(Mark::new(0.0, 0.0, What::Entry { level: entry as u8, text }));
        }
        piece
    }

    /// A paragraph by its class.
    fn text(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let place = self.tags.place(at.place, Tag::P);
        let is = |class: &str| element.is(class);
        let style = match () {
            () if is("kicker") || is("by") || is("what") => Style::SMALL.sized(8.4, 11.6),
            () if is("about") => Style::SMALL.sized(8.6, 12.0),
            () if is("small") => Style::SMALL,
            () if is("caution") => at.style.sized(8.6, 12.0),
            () => at.style,
        };
        let inlines = self.inlines(&element.children, style, place, None, parts);
        let inset = match () {
            () if is("about") => 3.5 * MM,
            () if is("caution") => 3.0 * MM,
            () => 0.0,
        };
        let right = if is("caution") { inset } else { 0.0 };
        let mut pieces = self.paragraph(&inlines, at.width - inset - right, Align::Left);
        if inset > 0.0 && !pieces.is_empty() {
            let mut piece = stack(pieces);
            let pad = if is("caution") { 2.0 * MM } else { 0.0 };
            piece.shift(inset, pad);
            piece.height += 2.0 * pad;
            let mark = if is("caution") {
                frame(at.width, piece.height, (RULE, 0.6))
            } else {
                rule(0.0, 0.0, 1.6, piece.height, RULE)
            };
            piece.marks.push(mark);
            (piece.before, piece.after) = (2.5 * MM, 2.0 * MM);
            pieces = vec![piece];
        }
        pieces
    }

    /// Text in lines; its first two and last two stay together.
    pub(super) fn paragraph(&self, inlines: &[Inline], width: f64, align: Align) -> Vec<Piece> {
        let mut pieces = lines(self.faces, inlines, width, align);
        let count = pieces.len();
        for (number, piece) in pieces.iter_mut().enumerate() {
            let inner = number + 1 < count;
            piece.keep = inner && (number == 0 || number + 2 == count || count < 4);
        }
        if let Some(last) = pieces.last_mut() {
            last.after = 1.8 * MM;
        }
        pieces
    }

    fn list(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let kind = if element.is("notes") { ListNumbering::LowerAlpha } else { ListNumbering::None };
        let list = self.tags.place(at.place, Tag::L(kind));
        let notes = element.is("notes");
        let ruled = element.is("behind") || element.is("problems");
        let style = match () {
            () if notes => Style::SMALL,
            () if ruled => at.style.sized(8.6, 12.0),
            () => at.style,
        };
        let mut out = Vec::new();
        for item in element.elements().filter(|item| item.name == "li") {
            let entry = self.tags.place(list, Tag::LI);
            let (label, body) = match item.children.split_first() {
                Some((Node::Element(first), rest)) if first.is("n") => (Some(first.text()), rest),
                _ if !ruled && !notes => (Some("•".to_owned()), &item.children[..]),
                _ => (None, &item.children[..]),
            };
            let indent = match (&label, notes) {
                (None, _) => 0.0,
                (Some(_), true) => 6.0 * MM,
                (Some(_), false) => 3.5 * MM,
            };
            let label = label.map(|text| {
                let place = self.tags.place(entry, Tag::Lbl);
                let look = RunStyle { style, slot: self.tags.slot(place), link: None };
                lines(self.faces, &[Inline::Text { text, look }], at.width, Align::Left)
            });
            let place = self.tags.place(entry, Tag::LBody);
            let inlines = self.inlines(body, style, place, None, parts);
            let mut pieces = self.paragraph(&inlines, at.width - indent, Align::Left);
            pieces.iter_mut().for_each(|piece| piece.shift(indent, 0.0));
            if let (Some(first), Some(label)) = (pieces.first_mut(), label) {
                first.marks.splice(0..0, label.into_iter().flat_map(|line| line.marks));
            }
            if let Some(last) = pieces.last_mut() {
                last.after = if notes { 0.5 * MM } else { 0.9 * MM };
                if ruled {
                    last.height += 0.9 * MM;
                    last.marks.push(rule(0.0, last.height, at.width, 0.5, HAIR));
                }
            }
            if let (Some(id), Some(first)) = (item.attribute("id"), pieces.first_mut()) {
                first.marks.push(Mark::new(0.0, 0.0, What::Anchor(id.to_owned())));
            }
            out.append(&mut pieces);
        }
        if let Some(first) = out.first_mut() {
            first.before = 1.4 * MM;
        }
        if let Some(last) = out.last_mut() {
            last.after = 2.5 * MM;
        }
        out
    }

    /// Words and what is said of each, in two columns.
    fn terms(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let list = self.tags.place(at.place, Tag::L(ListNumbering::None));
        let left = 42.0 * MM;
        let mut out: Vec<Piece> = Vec::new();
        let mut entry = list;
        let mut term = None;
        for part in element.elements() {
            if part.name == "dt" {
                entry = self.tags.place(list, Tag::LI);
                let place = self.tags.place(entry, Tag::Lbl);
                let inlines = self.inlines(&part.children, Style::TABLE.coloured(SOFT), place, None, parts);
                term = Some(stack(lines(self.faces, &inlines, left - 3.0 * MM, Align::Left)));
            } else {
                let place = self.tags.place(entry, Tag::LBody);
                let inlines = self.inlines(&part.children, Style::TABLE, place, None, parts);
                let body = stack(lines(self.faces, &inlines, at.width - left, Align::Left));
                let mut row =
                    beside(term.take().map(|term| (0.0, term)).into_iter().chain([(left, body)]).collect());
                row.after = 1.0 * MM;
                out.push(row);
            }
        }
        let count = out.len();
        for (number, row) in out.iter_mut().enumerate() {
            row.keep = number + 1 < count && (number == 0 || number + 2 == count);
        }
        out
    }

    /// Places of a film's pages with the numbers of these pages.
    fn contents(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let place = self.tags.place(at.place, Tag::P);
        let style = Style::SMALL.sized(8.4, 11.6);
        let mut inlines = Vec::new();
        for link in element.elements().filter(|link| link.name == "a") {
            let target = link.attribute("href").unwrap_or_default().trim_start_matches('#').to_owned();
            if !self.places.contains(&target) {
                continue;
            }
            inlines.extend(self.inlines(&[Node::Element(link.clone())], style, place, None, parts));
            let look = RunStyle { style, slot: self.tags.slot(place), link: None };
            inlines.push(Inline::Text { text: " page\u{a0}".to_owned(), look });
            let look = RunStyle { style, slot: self.tags.slot(place), link: None };
            inlines.push(Inline::PageOf { target, look });
            inlines.push(Inline::Text { text: "\u{a0}\u{a0} ".to_owned(), look });
        }
        let mut pieces = self.paragraph(&inlines, at.width, Align::Left);
        if let Some(first) = pieces.first_mut() {
            first.before = 1.0 * MM;
        }
        pieces
    }

    /// A drawing with what is said under it.
    fn figure(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Piece {
        let place = self.tags.place(at.place, Tag::Div);
        let at = At { place, ..at };
        let caption = element.elements().find(|part| part.name == "figcaption");
        let mut pieces = Vec::new();
        let says = caption.map(Element::text).unwrap_or_default();
        for part in element.elements().filter(|part| part.name != "figcaption") {
            let surround = part.is("surround");
            let inset = if surround { 2.5 * MM } else { 0.0 };
            let svg = if part.name == "svg" { Some(part) } else { part.find(&|one| one.name == "svg") };
            let Some(svg) = svg else {
                pieces.extend(self.block(part, at, parts));
                continue;
            };
            let inner = At { width: at.width - 2.0 * inset, ..at };
            let mut drawn = self.drawn(svg, inner, parts, surround, &says);
            if surround {
                drawn.shift(inset, inset);
                drawn.height += 2.0 * inset;
                let size = [at.width, drawn.height];
                drawn
                    .marks
                    .insert(0, Mark::new(0.0, 0.0, What::Area { size, fill: Some([0x8c; 3]), line: None }));
            }
            pieces.push(drawn);
        }
        if let Some(caption) = caption {
            self.figures += 1;
            let place = self.tags.place(place, Tag::Caption);
            let style = Style { colour: if caption.is("candidate") { ACCENT } else { SOFT }, ..Style::SMALL };
            let look = RunStyle { style: style.strong(), slot: self.tags.slot(place), link: None };
            let mut inlines =
                vec![Inline::Text { text: format!("Figure {}{}. ", self.prefix, self.figures), look }];
            inlines.extend(self.inlines(&caption.children, style, place, None, parts));
            let mut text = stack(lines(self.faces, &inlines, at.width, Align::Left));
            text.before = 1.2 * MM;
            pieces.push(text);
        }
        let mut piece = stack(pieces);
        (piece.before, piece.after) = (2.0 * MM, 4.0 * MM);
        piece
    }

    /// A drawing that stands alone.
    fn drawing(&mut self, svg: &Element, at: At, parts: &Parts<'_>, full: bool) -> Option<Piece> {
        let hidden = svg.is("shared") || svg.attribute("aria-hidden") == Some("true");
        (!hidden).then(|| self.drawn(svg, at, parts, full, ""))
    }

    /// A drawing at its own size where it has one and `full` does not ask for the whole width; never wider than there is room.
    pub(super) fn drawn(
        &mut self,
        svg: &Element,
        at: At,
        parts: &Parts<'_>,
        full: bool,
        says: &str,
    ) -> Piece {
        let drawing = drawing::drawing(svg, parts);
        let own = drawing.size_mm.map(|[width, _]| width * MM).filter(|_| !full);
        // A square is a piece of grain: two of them and what is said of them leave room for more on a page.
        let square = (drawing.units[0] - drawing.units[1]).abs() < 1e-6 && drawing.size_mm.is_none();
        let own = match () {
            () if svg.is("scale") => Some(60.0 * MM),
            () if square => Some(GRAIN),
            () => own,
        };
        let width = own.map_or(at.width, |own| own.min(at.width));
        let height = width * drawing.units[1] / drawing.units[0].max(1e-9);
        let alt = match (drawing.says.as_str(), says) {
            (own, "") => own.to_owned(),
            ("", says) => says.to_owned(),
            (own, says) => format!("{own}. {says}"),
        };
        let place = self.tags.place(at.place, Tag::Figure(Some(alt)));
        let slot = self.tags.slot(place);
        let what = What::Drawing { drawing: Rc::new(drawing), size: [width, height], slot };
        Piece { height, marks: vec![Mark::new(0.0, 0.0, what)], ..Piece::default() }
    }

    /// Parts beside each other in rows of so many.
    fn columns(&mut self, element: &Element, at: At, parts: &Parts<'_>, count: usize) -> Vec<Piece> {
        let gap = 4.0 * MM;
        let width = (at.width - gap * (count - 1) as f64) / count as f64;
        let children: Vec<&Element> = element.elements().collect();
        let mut out = Vec::new();
        for row in children.chunks(count) {
            let set = row.iter().enumerate().map(|(number, child)| {
                let pieces = self.block(child, At { width, ..at }, parts);
                (number as f64 * (width + gap), stack(pieces))
            });
            out.push(beside(set.collect()));
        }
        out
    }

    /// The parts of a text within lines.
    pub(super) fn inlines(
        &mut self,
        nodes: &[Node],
        style: Style,
        place: Place,
        link: Option<usize>,
        parts: &Parts<'_>,
    ) -> Vec<Inline> {
        let mut out = Vec::new();
        for node in nodes {
            match node {
                Node::Text(text) => {
                    let look = RunStyle { style, slot: self.tags.slot(place), link };
                    // A number stays with its sign of percent and its uncertainty.
                    let text = text.replace(" %", "\u{a0}%").replace(" ± ", "\u{a0}±\u{a0}");
                    out.push(Inline::Text { text, look });
                }
                Node::Element(element) => out.extend(self.inline(element, style, place, link, parts)),
            }
        }
        out
    }

    fn inline(
        &mut self,
        element: &Element,
        style: Style,
        place: Place,
        link: Option<usize>,
        parts: &Parts<'_>,
    ) -> Vec<Inline> {
        let is = |class: &str| element.is(class);
        let share = |share: f64| style.sized(style.size * share, style.leading);
        let within = match element.name.as_str() {
            "br" => return vec![Inline::Break],
            "svg" => return vec![self.swatch(element, style, place, parts)],
            "a" => return self.link(element, style, place, parts),
            "b" | "em" => style.strong(),
            _ if is("i") || is("f") || is("none") => {
                let look = RunStyle { style, slot: self.tags.slot(place), link };
                let (ems, right) = if is("f") { (2.1, false) } else { (2.6, true) };
                return vec![Inline::Wide { text: element.text(), look, ems, right }];
            }
            _ if is("pm") || is("u") => style.coloured(SOFT),
            _ if is("mark") => share(0.86).coloured(SOFT),
            _ if is("candidate") => style.coloured(ACCENT),
            _ if is("computed") => {
                let mut out = vec![Inline::Break];
                out.extend(self.inlines(&element.children, Style::SMALL, place, link, parts));
                return out;
            }
            _ => style,
        };
        self.inlines(&element.children, within, place, link, parts)
    }

    /// A link; one that leads nowhere in this document is text.
    fn link(&mut self, element: &Element, style: Style, place: Place, parts: &Parts<'_>) -> Vec<Inline> {
        let href = element.attribute("href").unwrap_or_default();
        if !href.strip_prefix('#').is_some_and(|target| self.places.contains(target)) {
            return self.inlines(&element.children, style, place, None, parts);
        }
        let place = self.tags.place(place, Tag::Link);
        let says = element.attribute("aria-label").map_or_else(|| element.text(), str::to_owned);
        let slot = self.tags.slot(place);
        self.links.push(Link { href: href[1..].to_owned(), says, slot });
        let style =
            if element.is("to") { Style { colour: SOFT, size: style.size * 0.86, ..style } } else { style };
        self.inlines(&element.children, style, place, Some(self.links.len() - 1), parts)
    }

    /// A small picture within a line.
    fn swatch(&mut self, svg: &Element, style: Style, place: Place, parts: &Parts<'_>) -> Inline {
        let drawing = drawing::drawing(svg, parts);
        let ems = if svg.is("swatch") {
            [3.2, 0.95]
        } else {
            [drawing.units[0] * MM / style.size, drawing.units[1] * MM / style.size]
        };
        let says = if drawing.says.is_empty() { svg.text() } else { drawing.says.clone() };
        let place = match says.as_str() {
            "" => place,
            _ => self.tags.place(place, Tag::Figure(Some(says))),
        };
        let look = RunStyle { style, slot: self.tags.slot(place), link: None };
        Inline::Picture { drawing: Rc::new(drawing), ems, look }
    }
}

/// A line or bar.
pub(super) fn rule(x: f64, y: f64, width: f64, height: f64, colour: drawing::Colour) -> Mark {
    Mark::new(x, y, What::Area { size: [width, height], fill: Some(colour), line: None })
}

/// A frame around what stands from the upper left corner.
pub(super) fn frame(width: f64, height: f64, line: (drawing::Colour, f64)) -> Mark {
    Mark::new(0.0, 0.0, What::Area { size: [width, height], fill: None, line: Some(line) })
}

/// The colour of what is not distinguishable.
pub(super) const SAME: drawing::Colour = FAINT;
