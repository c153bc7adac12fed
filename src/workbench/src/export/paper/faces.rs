//! The typeface on paper: words as glyphs with their widths.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use harfrust::{Direction, FontRef, ShapeOptions, ShapePlan, Shaper, ShaperData, UnicodeBuffer, script};
use krilla::text::{Font, GlyphId, KrillaGlyph};

use crate::fonts::{REGULAR, STRONG};

/// Stands for a letter that the typeface lacks; a copy of the text has the letter itself.
pub(super) const LACKING: char = '□';

/// Weight of a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Weight {
    Regular,
    Strong,
}

/// A piece of text as glyphs.
#[derive(Debug, Clone)]
pub(super) struct Shaped {
    /// What is drawn.
    pub(super) text: String,
    /// What is meant, where that is not what is drawn.
    pub(super) meant: Option<String>,
    /// With advances in ems.
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// The sum of the advances, in ems.
    pub(super) width: f64,
}

/// The two weights, and the words that were shaped already.
pub(super) struct Faces {
    data: [ShaperData; 2],
    fonts: [FontRef<'static>; 2],
    embedded: [Font; 2],
    known: RefCell<HashMap<(Weight, String), Rc<Shaped>>>,
}

impl Faces {
    /// # Errors
    /// The bundled fonts cannot be read.
    pub(super) fn new() -> Result<Self, String> {
        let read = |bytes: &'static [u8]| -> Result<(ShaperData, FontRef<'static>, Font), String> {
            let font = FontRef::new(bytes).map_err(|error| error.to_string())?;
            let embedded = Font::new(bytes.into(), 0).ok_or("the bundled font cannot be embedded")?;
            Ok((ShaperData::new(&font), font, embedded))
        };
        let (regular, strong) = (read(REGULAR)?, read(STRONG)?);
        Ok(Self {
            data: [regular.0, strong.0],
            fonts: [regular.1, strong.1],
            embedded: [regular.2, strong.2],
            known: RefCell::default(),
        })
    }

    /// The font of a weight, to be embedded.
    pub(super) fn embedded(&self, weight: Weight) -> Font {
        self.embedded[weight as usize].clone()
    }

    /// A piece of text as glyphs from the left to the right, kerned.
    pub(super) fn shape(&self, weight: Weight, text: &str) -> Rc<Shaped> {
        let key = (weight, text.to_owned());
        if let Some(known) = self.known.borrow().get(&key) {
            return Rc::clone(known);
        }
        let shaped = Rc::new(self.shaped_anew(weight, text));
        self.known.borrow_mut().insert(key, Rc::clone(&shaped));
        shaped
    }

    /// Width of a text in ems.
    pub(super) fn width(&self, weight: Weight, text: &str) -> f64 {
        self.shape(weight, text).width
    }

    fn shaped_anew(&self, weight: Weight, text: &str) -> Shaped {
        let shaper = self.data[weight as usize].shaper(&self.fonts[weight as usize]).build();
        let first = glyphs(&shaper, text);
        // A glyph of number 0 says that the typeface lacks its letter.
        let lacks = |at: usize| {
            first.iter().any(|glyph| glyph.glyph_id.to_u32() == 0 && glyph.text_range.contains(&at))
        };
        if first.iter().all(|glyph| glyph.glyph_id.to_u32() != 0) {
            return Shaped::of(text.to_owned(), None, first);
        }
        let mut drawn = String::with_capacity(text.len());
        for (at, letter) in text.char_indices() {
            match letter {
                _ if !lacks(at) => drawn.push(letter),
                '⅔' => drawn.push_str("²⁄₃"),
                _ => drawn.push(LACKING),
            }
        }
        let again = glyphs(&shaper, &drawn);
        Shaped::of(drawn, Some(text.to_owned()), again)
    }
}

impl Shaped {
    fn of(text: String, meant: Option<String>, glyphs: Vec<KrillaGlyph>) -> Self {
        let width = glyphs.iter().map(|glyph| f64::from(glyph.x_advance)).sum();
        Self { text, meant, glyphs, width }
    }

    /// Puts another piece after this one.
    pub(super) fn append(&mut self, other: &Self) {
        let shift = self.text.len();
        if self.meant.is_some() || other.meant.is_some() {
            let meant = self.meant.get_or_insert_with(|| self.text.clone());
            meant.push_str(other.meant.as_deref().unwrap_or(&other.text));
        }
        self.text.push_str(&other.text);
        self.glyphs.extend(other.glyphs.iter().cloned().map(|mut glyph| {
            glyph.text_range = glyph.text_range.start + shift..glyph.text_range.end + shift;
            glyph
        }));
        self.width += other.width;
    }

    /// Makes it wider by so many ems: nothing is drawn there.
    pub(super) fn widen(&mut self, ems: f64) {
        if let Some(last) = self.glyphs.last_mut() {
            last.x_advance += ems as f32;
        }
        self.width += ems;
    }
}

fn glyphs(shaper: &Shaper<'_>, text: &str) -> Vec<KrillaGlyph> {
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.set_script(script::LATIN);
    buffer.set_direction(Direction::LeftToRight);
    let plan = ShapePlan::new(shaper, Direction::LeftToRight, Some(script::LATIN), None, &[]);
    let out = shaper.shape(buffer, ShapeOptions::new().plan(Some(&plan)));
    let em = shaper.units_per_em() as f32;
    let starts: Vec<usize> = out.glyph_infos().iter().map(|info| info.cluster as usize).collect();
    let end =
        |start: usize| starts.iter().copied().filter(|other| *other > start).min().unwrap_or(text.len());
    out.glyph_infos()
        .iter()
        .zip(out.glyph_positions())
        .map(|(info, place)| {
            let start = info.cluster as usize;
            KrillaGlyph::new(
                GlyphId::new(info.glyph_id),
                place.x_advance as f32 / em,
                place.x_offset as f32 / em,
                place.y_offset as f32 / em,
                0.0,
                start..end(start),
                None,
            )
        })
        .collect()
}
