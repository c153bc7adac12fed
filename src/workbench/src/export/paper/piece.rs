//! What a page is made of: marks in pieces that are not broken, with the room between them.

use std::rc::Rc;

use super::drawing::{Colour, Drawing};
use super::faces::{Shaped, Weight};
use super::tags::Slot;

/// Points in a millimetre.
pub(super) const MM: f64 = 72.0 / 25.4;

pub(super) const INK: Colour = [0x1c; 3];
pub(super) const SOFT: Colour = [0x5c; 3];
pub(super) const FAINT: Colour = [0x6f; 3];
pub(super) const RULE: Colour = [0xcf; 3];
pub(super) const HAIR: Colour = [0xe4; 3];
pub(super) const ACCENT: Colour = [0xb0, 0x51, 0x1a];

/// How text looks: size and distance of lines in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub(super) size: f64,
    pub(super) leading: f64,
    pub(super) weight: Weight,
    pub(super) colour: Colour,
}

impl Style {
    pub(super) const TEXT: Self = Self { size: 9.4, leading: 13.2, weight: Weight::Regular, colour: INK };
    pub(super) const SMALL: Self = Self { size: 7.9, leading: 11.0, weight: Weight::Regular, colour: SOFT };
    pub(super) const TABLE: Self = Self { size: 8.4, leading: 11.4, weight: Weight::Regular, colour: INK };

    pub(super) fn sized(self, size: f64, leading: f64) -> Self {
        Self { size, leading, ..self }
    }

    pub(super) fn strong(self) -> Self {
        Self { weight: Weight::Strong, ..self }
    }

    pub(super) fn coloured(self, colour: Colour) -> Self {
        Self { colour, ..self }
    }
}

/// Something at a place, in points from the upper left corner of its piece; of text the start of its base line.
#[derive(Debug, Clone)]
pub(super) struct Mark {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) what: What,
}

/// What is drawn or noted at a place.
#[derive(Debug, Clone)]
pub(super) enum What {
    /// Without a slot it is decoration.
    Text {
        shaped: Rc<Shaped>,
        style: Style,
        slot: Option<Slot>,
    },
    Area {
        size: [f64; 2],
        fill: Option<Colour>,
        line: Option<(Colour, f64)>,
    },
    Drawing {
        drawing: Rc<Drawing>,
        size: [f64; 2],
        slot: Slot,
    },
    /// A link, by its number.
    Link {
        size: [f64; 2],
        link: usize,
    },
    /// The number of the page on which a place is.
    PageOf {
        target: String,
        style: Style,
        slot: Slot,
    },
    /// A place that links lead to.
    Anchor(String),
    /// A bookmark, outermost 1.
    Entry {
        level: u8,
        text: String,
    },
    /// What stands over the pages from here on.
    Head(String),
}

/// What stays together on a page.
#[derive(Debug, Clone, Default)]
pub(super) struct Piece {
    pub(super) height: f64,
    /// Least room before and after it, in points.
    pub(super) before: f64,
    pub(super) after: f64,
    /// The next piece is on the same page.
    pub(super) keep: bool,
    /// It begins a page.
    pub(super) fresh: bool,
    /// What is shown again above it where it begins a page: the head of its table.
    pub(super) again: Option<Rc<Piece>>,
    pub(super) marks: Vec<Mark>,
}

impl Mark {
    pub(super) fn new(x: f64, y: f64, what: What) -> Self {
        Self { x, y, what }
    }
}

impl Piece {
    /// Moves all that is in it.
    pub(super) fn shift(&mut self, x: f64, y: f64) {
        for mark in &mut self.marks {
            mark.x += x;
            mark.y += y;
        }
    }

    /// The same as decoration: no part of what is read.
    pub(super) fn as_decoration(&self) -> Self {
        let mut out = self.clone();
        out.marks.retain(|mark| matches!(mark.what, What::Text { .. } | What::Area { .. }));
        for mark in &mut out.marks {
            if let What::Text { slot, .. } = &mut mark.what {
                *slot = None;
            }
        }
        out
    }

    /// Parts it at a height: what lies above, and what below.
    pub(super) fn part(mut self, height: f64) -> (Self, Self) {
        let (mut upper, mut lower) = (self.clone(), Self { again: self.again.clone(), ..Self::default() });
        upper.marks.clear();
        for mut mark in self.marks.drain(..) {
            if let What::Area { size, .. } = &mut mark.what
                && mark.y < height
                && mark.y + size[1] > height
            {
                let mut rest = mark.clone();
                if let What::Area { size, .. } = &mut rest.what {
                    size[1] = mark.y + size[1] - height;
                }
                rest.y = 0.0;
                lower.marks.push(rest);
                if let What::Area { size, .. } = &mut mark.what {
                    size[1] = height - mark.y;
                }
                upper.marks.push(mark);
            } else if mark.y <= height {
                upper.marks.push(mark);
            } else {
                mark.y -= height;
                lower.marks.push(mark);
            }
        }
        upper.height = height;
        upper.keep = false;
        lower.height = self.height - height;
        (lower.after, lower.keep) = (self.after, self.keep);
        (upper, lower)
    }
}

/// Pieces one under the other as one.
pub(super) fn stack(pieces: Vec<Piece>) -> Piece {
    let mut out = Piece::default();
    let mut after = 0.0_f64;
    for (number, mut piece) in pieces.into_iter().enumerate() {
        if number == 0 {
            out.before = piece.before;
            out.fresh = piece.fresh;
        } else {
            out.height += after.max(piece.before);
        }
        piece.shift(0.0, out.height);
        out.height += piece.height;
        after = piece.after;
        out.keep = piece.keep;
        out.marks.append(&mut piece.marks);
    }
    out.after = after;
    out
}

/// Pieces beside each other as one, each at its distance from the left.
pub(super) fn beside(pieces: Vec<(f64, Piece)>) -> Piece {
    let mut out = Piece::default();
    for (x, mut piece) in pieces {
        piece.shift(x, 0.0);
        out.height = out.height.max(piece.height);
        out.before = out.before.max(piece.before);
        out.after = out.after.max(piece.after);
        out.marks.append(&mut piece.marks);
    }
    out
}
