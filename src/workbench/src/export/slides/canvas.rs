//! A slide as it is laid out: text that wraps, drawings that are fitted into their place, all within safe margins.

use std::fmt::Write;

use twinwedge_core::drawing::Plot;

use crate::export::markup::escape_plain;
use crate::export::svg::{ACCENT, FONTS, INK, height_mm, placed};

/// Text that is less important.
pub(super) const SOFT: &str = "#5c5c5c";
/// Share of the slide that stays free at each edge: what screens and players may cover (EBU R 95).
const SAFE: f64 = 0.05;
/// Mean width of a letter over the height of text, on the wide side.
const LETTER: f64 = 0.53;
/// Distance of lines over the height of text.
const LEADING: f64 = 1.3;
/// Written into every SVG: by this a slide is told from other drawings.
const MARK: &str = "<!-- Twinwedge slide -->";

/// Whether a file with these first bytes is a slide that this program wrote.
pub(super) fn is_ours(head: &[u8]) -> bool {
    head.windows(MARK.len()).any(|window| window == MARK.as_bytes())
}

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    size: f64,
    colour: &'static str,
    strong: bool,
}

impl Type {
    pub(super) const TITLE: Self = Self { size: 56.0, colour: INK, strong: true };
    pub(super) const LARGE: Self = Self { size: 42.0, colour: INK, strong: true };
    pub(super) const STATEMENT: Self = Self { strong: false, ..Self::LARGE };
    pub(super) const TEXT: Self = Self { size: 34.0, colour: INK, strong: false };
    pub(super) const SMALL: Self = Self { size: 26.0, colour: SOFT, strong: false };

    pub(super) fn soft(self) -> Self {
        Self { colour: SOFT, ..self }
    }

    pub(super) fn accent(self) -> Self {
        Self { colour: ACCENT, ..self }
    }
}

/// A place on a slide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl Area {
    /// Below `used` of its height.
    pub(super) fn below(self, used: f64) -> Self {
        Self { y: self.y + used, height: (self.height - used).max(0.0), ..self }
    }

    /// Without so much at its lower edge.
    pub(super) fn without_foot(self, foot: f64) -> Self {
        Self { height: (self.height - foot).max(0.0), ..self }
    }

    /// In `count` places of one size beside each other, or one below the other where it is higher than wide.
    pub(super) fn split(self, count: usize, gap: f64) -> Vec<Self> {
        let n = count.max(1) as f64;
        let each = |index: usize| {
            let at = index as f64;
            if self.width >= self.height {
                let width = (self.width - gap * (n - 1.0)) / n;
                Self { x: self.x + at * (width + gap), width, ..self }
            } else {
                let height = (self.height - gap * (n - 1.0)) / n;
                Self { y: self.y + at * (height + gap), height, ..self }
            }
        };
        (0..count.max(1)).map(each).collect()
    }
}

/// A slide while it is drawn.
#[derive(Debug)]
pub(super) struct Canvas {
    size: [f64; 2],
    title: String,
    body: String,
}

impl Canvas {
    pub(super) fn new(size: [f64; 2]) -> Self {
        Self { size, title: String::new(), body: String::new() }
    }

    /// Nothing yet, of the same size: to try how much room something takes.
    pub(super) fn blank(&self) -> Self {
        Self::new(self.size)
    }

    /// What lies within the safe margins.
    pub(super) fn safe(&self) -> Area {
        let [width, height] = self.size;
        let (x, y) = (SAFE * width, SAFE * height);
        Area { x, y, width: width - 2.0 * x, height: height - 2.0 * y }
    }

    /// What is said of the slide to those who do not see it.
    pub(super) fn say(&mut self, title: &str) {
        title.clone_into(&mut self.title);
    }

    /// Text in lines from the upper edge of an area on; gives the height used. What does not fit into the height ends in an ellipsis.
    pub(super) fn text(&mut self, area: Area, text: &str, kind: Type) -> f64 {
        let mut rows = lines(text, area.width / (kind.size * LETTER));
        let most = ((area.height / (kind.size * LEADING)) as usize).max(1);
        if rows.len() > most {
            rows.truncate(most);
            if let Some(last) = rows.last_mut() {
                last.push('…');
            }
        }
        for (number, line) in rows.iter().enumerate() {
            self.line(area.x, area.y + kind.size * (LEADING * number as f64 + 0.95), line, kind);
        }
        kind.size * LEADING * rows.len() as f64
    }

    fn line(&mut self, x: f64, y: f64, text: &str, kind: Type) {
        let weight = if kind.strong { " font-weight=\"600\"" } else { "" };
        let _ = write!(
            self.body,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{}\" fill=\"{}\"{weight}>{}</text>",
            kind.size,
            kind.colour,
            escape_plain(text)
        );
    }

    /// A line across an area's upper edge.
    pub(super) fn rule(&mut self, area: Area) {
        let _ = write!(
            self.body,
            "<path d=\"M{:.1} {:.1}h{:.1}\" stroke=\"#cfcfcf\" stroke-width=\"2\" fill=\"none\"/>",
            area.x, area.y, area.width
        );
    }

    /// A plot as large as fits, its text as high as the slide's small text.
    pub(super) fn plot(&mut self, area: Area, plot: &Plot) {
        // Plots are drawn with text 2.5 mm high.
        let scale = Type::SMALL.size / 2.5;
        let mut width_mm = area.width / scale;
        let mut scale = scale;
        // Those that would be too high are drawn narrower, down to where their labels would not fit, then smaller.
        while height_mm(plot, width_mm) * scale > area.height && width_mm > 60.0 {
            width_mm *= 0.98;
        }
        let height = height_mm(plot, width_mm);
        scale = scale.min(area.height / height);
        let (width, height) = (width_mm * scale, height * scale);
        let at = [area.x + (area.width - width) / 2.0, area.y];
        self.body.push_str(&placed(plot, width_mm, at, [width, height]));
    }

    /// A picture with what is drawn over it, whose own units are `units` wide and high, as large as fits; gives where it is.
    pub(super) fn picture(&mut self, area: Area, units: [f64; 2], inner: &str, says: &str) -> Area {
        let scale = (area.width / units[0]).min(area.height / units[1]);
        let (width, height) = (units[0] * scale, units[1] * scale);
        let x = area.x + (area.width - width) / 2.0;
        let _ = write!(
            self.body,
            "<svg x=\"{x:.1}\" y=\"{:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" viewBox=\"0 0 {} {}\" role=\"img\" \
             aria-label=\"{}\">{inner}</svg>",
            area.y,
            units[0],
            units[1],
            escape_plain(says)
        );
        Area { x, y: area.y, width, height }
    }

    /// A ground for prints to be judged against.
    pub(super) fn surround(&mut self, area: Area) {
        let _ = write!(
            self.body,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"#8c8c8c\"/>",
            area.x, area.y, area.width, area.height
        );
    }

    /// The whole slide, of so many pixels.
    pub(super) fn svg(self, [width, height]: [u32; 2]) -> String {
        let [units_wide, units_high] = self.size;
        let title = escape_plain(&self.title);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {units_wide} \
             {units_high}\" role=\"img\" aria-label=\"{title}\" font-family=\"{FONTS}\">{MARK}<title>{title}</title><rect \
             width=\"{units_wide}\" height=\"{units_high}\" fill=\"#ffffff\"/>{}</svg>\n",
            self.body
        )
    }
}

/// Text in lines of at most so many letters, broken between words; paragraphs stay apart. A word that is longer is cut.
fn lines(text: &str, letters: f64) -> Vec<String> {
    let letters = (letters as usize).max(4);
    let mut out = Vec::new();
    for paragraph in text.lines().map(str::trim).filter(|paragraph| !paragraph.is_empty()) {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            let mut word = word.to_owned();
            loop {
                let used = line.chars().count();
                let blank = usize::from(used > 0);
                if used + blank + word.chars().count() <= letters {
                    if blank > 0 {
                        line.push(' ');
                    }
                    line.push_str(&word);
                    break;
                }
                if used > 0 {
                    out.push(std::mem::take(&mut line));
                    continue;
                }
                let at = word.char_indices().nth(letters).map_or(word.len(), |(at, _)| at);
                let rest = word.split_off(at);
                out.push(std::mem::replace(&mut word, rest));
            }
        }
        if !line.is_empty() {
            out.push(line);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition: words in their order, none lost, no line longer.
    #[test]
    fn text_wraps_between_words() {
        assert_eq!(lines("one two  three\n\nfour", 8.0), ["one two", "three", "four"]);
        assert_eq!(lines("abcdefghij k", 4.9), ["abcd", "efgh", "ij k"]);
        assert!(lines(" \n ", 10.0).is_empty());
    }

    /// EBU R 95: graphics keep 5 % from each edge.
    #[test]
    fn margins_are_safe() {
        let safe = Canvas::new([1920.0, 1080.0]).safe();
        assert_eq!(safe, Area { x: 96.0, y: 54.0, width: 1728.0, height: 972.0 });
    }

    #[test]
    fn text_that_does_not_fit_ends_in_an_ellipsis() {
        let mut canvas = Canvas::new([400.0, 400.0]);
        let area = Area { x: 0.0, y: 0.0, width: 300.0, height: 100.0 };
        assert!(canvas.text(area, &"word ".repeat(200), Type::TEXT) <= area.height);
        assert!(canvas.svg([400, 400]).contains("…</text>"));
    }
}
