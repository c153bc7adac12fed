//! Text in lines: words, what stands between them, and where lines end.

use std::rc::Rc;

use super::drawing::Drawing;
use super::faces::{Faces, Shaped};
use super::piece::{Mark, Piece, Style, What};
use super::tags::Slot;

/// A part of a text.
#[derive(Debug, Clone)]
pub(super) enum Inline {
    Text {
        text: String,
        look: RunStyle,
    },
    /// Text that is not broken and at least so many ems wide: numbers under each other.
    Wide {
        text: String,
        look: RunStyle,
        ems: f64,
        right: bool,
    },
    Picture {
        drawing: Rc<Drawing>,
        ems: [f64; 2],
        look: RunStyle,
    },
    /// The number of the page on which a place is.
    PageOf {
        target: String,
        look: RunStyle,
    },
    Break,
}

/// How a part of a text looks, where it stands in the reading order, and the link that it is of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RunStyle {
    pub(super) style: Style,
    pub(super) slot: Slot,
    pub(super) link: Option<usize>,
}

/// Where lines stand within their width.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Right,
}

#[derive(Debug, Clone)]
enum Thing {
    Glyphs(Rc<Shaped>),
    Picture(Rc<Drawing>, [f64; 2]),
    PageOf(String),
}

/// A piece of a word: what, its width with the room before and after, in points.
#[derive(Debug, Clone)]
struct Part {
    thing: Thing,
    look: RunStyle,
    before: f64,
    width: f64,
    after: f64,
}

#[derive(Debug, Clone)]
enum Atom {
    Word(Vec<Part>),
    Space(RunStyle),
    Break,
}

/// Longest text that is shaped in one go.
const CHUNK: usize = 80;

fn is_space(c: char) -> bool {
    matches!(c, ' ' | '\n' | '\t')
}

fn width(word: &[Part]) -> f64 {
    word.iter().map(|part| part.before + part.width + part.after).sum()
}

/// All lines of a text at a width.
pub(super) fn lines(faces: &Faces, inlines: &[Inline], width: f64, align: Align) -> Vec<Piece> {
    let atoms = broken(faces, atoms(faces, inlines), width);
    let mut rows: Vec<Vec<Atom>> = vec![Vec::new()];
    let mut used = 0.0;
    for atom in atoms {
        let row = rows.len() - 1;
        match &atom {
            Atom::Break => {
                rows.push(Vec::new());
                used = 0.0;
            }
            Atom::Space(look) => {
                if !rows[row].is_empty() {
                    used += space(faces, look);
                    rows[row].push(atom);
                }
            }
            Atom::Word(word) => {
                let own = self::width(word);
                let begun = rows[row].iter().any(|atom| matches!(atom, Atom::Word(_)));
                if begun && used + own > width + 0.01 && matches!(rows[row].last(), Some(Atom::Space(_))) {
                    rows.push(vec![atom]);
                    used = own;
                } else {
                    used += own;
                    rows[row].push(atom);
                }
            }
        }
    }
    rows.iter().filter(|row| !row.is_empty()).map(|row| set(faces, row, width, align)).collect()
}

/// The widest word of a text, and its width without any break.
pub(super) fn extent(faces: &Faces, inlines: &[Inline]) -> (f64, f64) {
    let (mut least, mut most, mut here, mut pending) = (0.0_f64, 0.0_f64, 0.0, 0.0);
    for atom in atoms(faces, inlines) {
        match atom {
            Atom::Break => (here, pending) = (0.0, 0.0),
            Atom::Space(look) => pending += if here > 0.0 { space(faces, &look) } else { 0.0 },
            Atom::Word(word) => {
                let own = width(&word);
                least = least.max(own);
                here += own + pending;
                pending = 0.0;
                most = most.max(here);
            }
        }
    }
    (least, most)
}

fn space(faces: &Faces, look: &RunStyle) -> f64 {
    faces.width(look.style.weight, " ") * look.style.size
}

/// Words and spaces while they are taken apart.
#[derive(Default)]
struct Atoms {
    out: Vec<Atom>,
    /// The next part belongs to the last word.
    glued: bool,
}

impl Atoms {
    fn add(&mut self, part: Part) {
        match self.out.last_mut() {
            Some(Atom::Word(word)) if self.glued => word.push(part),
            _ => self.out.push(Atom::Word(vec![part])),
        }
        self.glued = true;
    }

    fn space(&mut self, look: RunStyle) {
        if matches!(self.out.last(), Some(Atom::Word(_))) {
            self.out.push(Atom::Space(look));
        }
        self.glued = false;
    }

    fn text(&mut self, faces: &Faces, text: &str, look: RunStyle) {
        let mut rest = text;
        while let Some(first) = rest.chars().next() {
            let end = rest.find(|c| is_space(c) != is_space(first)).unwrap_or(rest.len());
            if is_space(first) {
                self.space(look);
            } else {
                chunks(&rest[..end]).for_each(|chunk| self.add(glyphs(faces, chunk, look)));
            }
            rest = &rest[end..];
        }
    }
}

fn atoms(faces: &Faces, inlines: &[Inline]) -> Vec<Atom> {
    let mut atoms = Atoms::default();
    let bare = |thing, look: &RunStyle, width| Part { thing, look: *look, before: 0.0, width, after: 0.0 };
    for inline in inlines {
        match inline {
            Inline::Text { text, look } => atoms.text(faces, text, *look),
            Inline::Wide { text, look, ems, right } => {
                let mut part = glyphs(faces, text, *look);
                let room = (ems * look.style.size - part.width).max(0.0);
                *(if *right { &mut part.before } else { &mut part.after }) = room;
                atoms.add(part);
            }
            Inline::Picture { drawing, ems, look } => {
                let size = ems.map(|ems| ems * look.style.size);
                let mut part = bare(Thing::Picture(Rc::clone(drawing), size), look, size[0]);
                part.after = 0.4 * look.style.size;
                atoms.add(part);
            }
            Inline::PageOf { target, look } => {
                let width = faces.width(look.style.weight, "0000") * look.style.size;
                atoms.add(bare(Thing::PageOf(target.clone()), look, width));
            }
            Inline::Break => {
                atoms.out.push(Atom::Break);
                atoms.glued = false;
            }
        }
    }
    // What stands at the end of a line is not seen.
    while matches!(atoms.out.last(), Some(Atom::Space(_) | Atom::Break)) {
        atoms.out.pop();
    }
    atoms.out
}

/// A text in pieces that are quickly shaped.
fn chunks(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let end = rest.char_indices().nth(CHUNK).map_or(rest.len(), |(at, _)| at);
        let (chunk, more) = rest.split_at(end);
        rest = more;
        (!chunk.is_empty()).then_some(chunk)
    })
}

fn glyphs(faces: &Faces, text: &str, look: RunStyle) -> Part {
    let shaped = faces.shape(look.style.weight, text);
    let width = shaped.width * look.style.size;
    Part { thing: Thing::Glyphs(shaped), look, before: 0.0, width, after: 0.0 }
}

/// Words that are wider than a line, in pieces that are not.
fn broken(faces: &Faces, atoms: Vec<Atom>, most: f64) -> Vec<Atom> {
    let mut out = Vec::with_capacity(atoms.len());
    for atom in atoms {
        match atom {
            Atom::Word(word) if width(&word) > most + 0.01 => break_word(faces, &word, most, &mut out),
            other => out.push(other),
        }
    }
    out
}

fn break_word(faces: &Faces, word: &[Part], most: f64, out: &mut Vec<Atom>) {
    let mut line: Vec<Part> = Vec::new();
    for part in word {
        let Thing::Glyphs(shaped) = &part.thing else {
            line.push(part.clone());
            continue;
        };
        let meant = shaped.meant.as_deref().unwrap_or(&shaped.text);
        let mut piece = String::new();
        let mut used = width(&line);
        for letter in meant.chars() {
            let own =
                faces.width(part.look.style.weight, letter.encode_utf8(&mut [0; 4])) * part.look.style.size;
            if used + own > most && !(piece.is_empty() && line.is_empty()) {
                if !piece.is_empty() {
                    line.push(glyphs(faces, &piece, part.look));
                    piece.clear();
                }
                out.push(Atom::Word(std::mem::take(&mut line)));
                out.push(Atom::Break);
                used = 0.0;
            }
            used += own;
            piece.push(letter);
        }
        if !piece.is_empty() {
            line.push(glyphs(faces, &piece, part.look));
        }
    }
    if !line.is_empty() {
        out.push(Atom::Word(line));
    }
}

/// What of a line is drawn in one go.
struct Run {
    x: f64,
    shaped: Shaped,
    look: RunStyle,
}

/// A line with its marks.
fn set(faces: &Faces, row: &[Atom], width: f64, align: Align) -> Piece {
    let looks = row.iter().flat_map(|atom| match atom {
        Atom::Word(word) => word.iter().map(|part| part.look.style).collect(),
        _ => Vec::new(),
    });
    let (mut leading, mut size) = (0.0_f64, 0.0_f64);
    for style in looks {
        leading = leading.max(style.leading);
        size = size.max(style.size);
    }
    let mut piece = Piece { height: leading, ..Piece::default() };
    // Capital letters stand in the middle of the line.
    let y = leading / 2.0 + 0.36 * size;
    let mut run: Option<Run> = None;
    let mut x = 0.0;
    for atom in row {
        match atom {
            Atom::Space(look) => {
                let shaped = faces.shape(look.style.weight, " ");
                x += add(&mut piece, &mut run, x, y, &shaped, *look);
            }
            Atom::Word(word) => {
                for part in word {
                    x += part.before;
                    match &part.thing {
                        Thing::Glyphs(shaped) => {
                            if part.before > 0.0 {
                                flush(&mut piece, &mut run, y);
                            }
                            add(&mut piece, &mut run, x, y, shaped, part.look);
                            if part.after > 0.0
                                && let Some(run) = &mut run
                            {
                                run.shaped.widen(part.after / part.look.style.size);
                            }
                        }
                        Thing::Picture(drawing, size) => {
                            flush(&mut piece, &mut run, y);
                            let what = What::Drawing {
                                drawing: Rc::clone(drawing),
                                size: *size,
                                slot: part.look.slot,
                            };
                            piece.marks.push(Mark::new(x, y - 0.86 * size[1], what));
                        }
                        Thing::PageOf(target) => {
                            flush(&mut piece, &mut run, y);
                            let what = What::PageOf {
                                target: target.clone(),
                                style: part.look.style,
                                slot: part.look.slot,
                            };
                            piece.marks.push(Mark::new(x, y, what));
                        }
                    }
                    x += part.width + part.after;
                }
            }
            Atom::Break => {}
        }
    }
    flush(&mut piece, &mut run, y);
    if align == Align::Right {
        let last = match row.last() {
            Some(Atom::Space(look)) => space(faces, look),
            _ => 0.0,
        };
        piece.shift(width - x + last, 0.0);
    }
    piece
}

/// Puts more onto the run of a line, or begins a new one; gives its width.
fn add(piece: &mut Piece, run: &mut Option<Run>, x: f64, y: f64, shaped: &Shaped, look: RunStyle) -> f64 {
    match run {
        Some(run) if run.look == look => run.shaped.append(shaped),
        _ => {
            flush(piece, run, y);
            *run = Some(Run { x, shaped: shaped.clone(), look });
        }
    }
    shaped.width * look.style.size
}

fn flush(piece: &mut Piece, run: &mut Option<Run>, y: f64) {
    let Some(Run { x, shaped, look }) = run.take() else { return };
    let style = look.style;
    if let Some(link) = look.link {
        let size = [shaped.width * style.size, style.size * 1.2];
        piece.marks.push(Mark::new(x, y - style.size * 0.95, What::Link { size, link }));
    }
    piece.marks.push(Mark::new(x, y, What::Text { shaped: Rc::new(shaped), style, slot: Some(look.slot) }));
}
