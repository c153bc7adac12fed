//! The parts of the report that are laid out in their own way: the card of a film, and its findings.

use krilla::tagging::{ListNumbering, Tag};

use super::drawing::Parts;
use super::lines::{Align, lines};
use super::piece::{HAIR, INK, MM, Mark, Piece, RULE, SOFT, Style, What, beside, stack};
use super::read::Element;
use super::setter::{At, SAME, Setter, frame, rule};

impl Setter<'_> {
    /// Verdict over facts beside the curves, in a frame.
    pub(super) fn card(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Piece {
        let (x, y) = (5.0 * MM, 4.0 * MM);
        let width = at.width - 2.0 * x;
        let place = self.tags.place(at.place, Tag::Section);
        let at = At { place, width, ..at };
        let mut rows = Vec::new();
        let picture_width = 92.0 * MM;
        let facts_width = width - picture_width - 6.0 * MM;
        let mut row = Vec::new();
        for part in element.elements() {
            if part.is("verdict") {
                let style = Style::TEXT.sized(11.6, 15.8);
                let mut piece = stack(self.blocks(part, At { style, ..at }, parts));
                piece.height += 1.0 * MM;
                piece.marks.push(rule(0.0, piece.height, width, 0.6, RULE));
                piece.after = 3.0 * MM;
                rows.push(piece);
            } else if part.is("facts") {
                row.push((0.0, self.facts(part, At { width: facts_width, ..at }, parts)));
            } else if part.is("glance") {
                let said = element.find(&|one| one.is("facts")).map(facts_in_words).unwrap_or_default();
                for svg in part.elements().filter(|one| one.name == "svg") {
                    let inner = At { width: picture_width, ..at };
                    row.push((width - picture_width, self.drawn(svg, inner, parts, true, &said)));
                }
            } else {
                rows.push(stack(self.blocks(part, at, parts)));
            }
        }
        rows.push(beside(row));
        let mut card = stack(rows);
        card.shift(x, y);
        card.height += 2.0 * y;
        card.marks.insert(0, frame(width + 2.0 * x, card.height, (INK, 0.85)));
        (card.before, card.after) = (4.0 * MM, 2.0 * MM);
        card
    }

    fn facts(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Piece {
        let gap = 4.0 * MM;
        let width = (at.width - gap) / 2.0;
        let facts: Vec<&Element> = element.elements().collect();
        let mut rows = Vec::new();
        for pair in facts.chunks(2) {
            let set = pair.iter().enumerate().map(|(number, fact)| {
                let place = self.tags.place(at.place, Tag::P);
                let mut pieces = Vec::new();
                for part in fact.elements() {
                    let style = match () {
                        () if part.is("word") && fact.is("same") => Style::TEXT,
                        () if part.is("word") => Style::TEXT.sized(11.4, 14.0).strong(),
                        () => Style::SMALL,
                    };
                    let inlines = self.inlines(&part.children, style, place, None, parts);
                    pieces.extend(lines(self.faces, &inlines, width, Align::Left));
                }
                (number as f64 * (width + gap), stack(pieces))
            });
            let mut row = beside(set.collect());
            row.after = 2.6 * MM;
            rows.push(row);
        }
        stack(rows)
    }

    /// The questions with their findings: the question at the left, the sentence, and its figure at the right.
    pub(super) fn findings(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let mut out = Vec::new();
        for section in element.elements() {
            let place = self.tags.place(at.place, Tag::Section);
            let mut piece = self.question(section, At { place, ..at }, parts);
            piece.shift(0.0, 1.3 * MM);
            piece.height += 2.6 * MM;
            piece.marks.push(rule(0.0, 0.0, at.width, 0.5, HAIR));
            out.push(piece);
        }
        if let Some(first) = out.first_mut() {
            first.keep = true;
        }
        if let Some(last) = out.last_mut() {
            (last.after, last.keep) = (3.0 * MM, false);
        }
        out
    }

    fn question(&mut self, section: &Element, at: At, parts: &Parts<'_>) -> Piece {
        let (left, right) = (36.0 * MM, 34.0 * MM);
        let mut row = Vec::new();
        let mut items = Vec::new();
        for part in section.elements() {
            if part.name == "h3" {
                let level = std::num::NonZeroU16::new(3).unwrap_or(std::num::NonZeroU16::MIN);
                let place = self.tags.place(at.place, Tag::Hn(level, Some(part.text())));
                let style = Style::TEXT.sized(8.6, 12.0).strong();
                let inlines = self.inlines(&part.children, style, place, None, parts);
                row.push((0.0, stack(lines(self.faces, &inlines, left - 4.0 * MM, Align::Left))));
                continue;
            }
            let list = self.tags.place(at.place, Tag::L(ListNumbering::None));
            for item in part.elements() {
                let entry = self.tags.place(list, Tag::LI);
                let place = self.tags.place(entry, Tag::LBody);
                let pale = item.is("same") || item.is("missing");
                let style = Style::TEXT.sized(9.0, 12.0).coloured(if pale { SOFT } else { INK });
                let middle = at.width - left - right - 4.0 * MM;
                let mut cells = Vec::new();
                for cell in item.elements() {
                    let (x, width, style, align) = if cell.is("much") {
                        let style = Style::SMALL.sized(8.0, 12.0).coloured(if pale { SAME } else { SOFT });
                        (middle + 4.0 * MM, right, style, Align::Right)
                    } else {
                        (0.0, middle, style, Align::Left)
                    };
                    let inlines = self.inlines(&cell.children, style, place, None, parts);
                    cells.push((x, stack(lines(self.faces, &inlines, width, align))));
                }
                let mut piece = beside(cells);
                piece.after = 0.8 * MM;
                if let Some(id) = item.attribute("id") {
                    piece.marks.push(Mark::new(0.0, 0.0, What::Anchor(id.to_owned())));
                }
                items.push(piece);
            }
        }
        row.push((left, stack(items)));
        beside(row)
    }
}

/// `Speed: faster, +1.43 ± 0.12 stops.` and so on: what the facts of a card say, in one line.
fn facts_in_words(facts: &Element) -> String {
    let fact = |fact: &Element| {
        let texts: Vec<String> = fact.elements().map(Element::text).filter(|text| !text.is_empty()).collect();
        match texts.split_first() {
            Some((about, rest)) => format!("{about}: {}.", rest.join(", ")),
            None => String::new(),
        }
    };
    facts.elements().map(fact).collect::<Vec<_>>().join(" ")
}
