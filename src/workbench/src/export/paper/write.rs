//! Pages as PDF: what is drawn, where links lead, bookmarks, and the structure.

use std::collections::HashMap;

use krilla::Document;
use krilla::SerializeSettings;
use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::color::rgb;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};

use super::drawing::{Anchor, Colour, Drawing, Line, Picture, Shape, Step};
use super::faces::{Faces, Shaped, Weight};
use super::pages::Page;
use super::piece::{HAIR, INK, MM, Mark, Style, What};
use super::setter::Link;
use super::tags::Tags;

/// A sheet and where text stands on it, in points.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Sheet {
    /// What the margins leave of the page's width, in points.
    pub(super) fn text_width(&self) -> f64 {
        self.width - 2.0 * self.left
    }

    /// What the margins leave of the page's height, in points.
    pub(super) fn text_height(&self) -> f64 {
        self.height - self.top - self.bottom
    }
}

/// What a document says of itself, on every page and in its data.
#[derive(Debug, Clone, Default)]
pub(super) struct About {
    pub(super) title: String,
    /// Over every page but the first, at the left.
    pub(super) series: String,
    /// Under every page, at the left.
    pub(super) signed: String,
    /// Year, month, day.
    pub(super) date: Option<(u16, u8, u8)>,
    pub(super) author: String,
}

/// What drawing needs beside the page.
struct Pen<'a> {
    faces: &'a Faces,
    places: HashMap<String, (usize, Point)>,
    links: &'a [Link],
    images: HashMap<usize, Image>,
}

/// Text at a place of the sheet.
#[derive(Debug)]
pub(super) struct Placed {
    pub(super) at: [f64; 2],
    pub(super) shaped: Shaped,
    pub(super) style: Style,
}

/// What stands over and under the text of a page; the first has nothing over it.
#[derive(Debug, Default)]
pub(super) struct Running {
    pub(super) head: Vec<Placed>,
    pub(super) foot: Vec<Placed>,
}

/// What stands over and under the text of the page with this number, of so many.
pub(super) fn running(
    faces: &Faces,
    sheet: Sheet,
    about: &About,
    (number, of): (usize, usize),
    head: &str,
) -> Running {
    let style = Style::SMALL.sized(7.6, 10.0);
    let half = 0.56 * sheet.text_width();
    let width = |shaped: &Shaped| shaped.width * style.size;
    let at_right = |shaped: &Shaped| sheet.width - sheet.left - width(shaped);
    let rest = |shaped: &Shaped| sheet.text_width() - width(shaped) - 12.0;
    let mut out = Running::default();
    if number > 0 {
        let y = sheet.top - 7.0 * MM;
        let series = clipped(faces, &about.series, half, style);
        let head = clipped(faces, head, rest(&series), style);
        out.head.push(Placed { at: [sheet.left, y], shaped: series, style });
        out.head.push(Placed { at: [at_right(&head), y], shaped: head, style });
    }
    let y = sheet.height - sheet.bottom + 9.0 * MM;
    let page = clipped(faces, &format!("{} / {of}", number + 1), half, style);
    let signed = clipped(faces, &about.signed, rest(&page), style);
    out.foot.push(Placed { at: [at_right(&page), y], shaped: page, style: style.coloured(INK) });
    out.foot.push(Placed { at: [sheet.left, y], shaped: signed, style });
    out
}

/// A text no wider than there is room; one that is cut ends in an ellipsis.
fn clipped(faces: &Faces, text: &str, room: f64, style: Style) -> Shaped {
    let fits = |text: &str| faces.width(style.weight, text) * style.size <= room;
    if text.chars().count() < 400 && fits(text) {
        return (*faces.shape(style.weight, text)).clone();
    }
    let letters: Vec<char> = text.chars().take(400).collect();
    let cut = |count: usize| letters[..count].iter().chain(['…'].iter()).collect::<String>();
    let (mut low, mut high) = (0, letters.len());
    while low < high {
        let middle = (low + high).div_ceil(2);
        if fits(&cut(middle)) { low = middle } else { high = middle - 1 }
    }
    (*faces.shape(style.weight, &cut(low))).clone()
}

/// The document as a file.
///
/// # Errors
/// It does not hold what PDF/UA asks for, or a picture cannot be read.
pub(super) fn write(
    faces: &Faces,
    sheet: Sheet,
    about: &About,
    pages: &[Page],
    mut tags: Tags,
    links: &[Link],
) -> Result<Vec<u8>, String> {
    let configuration = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1).finish();
    let configuration = configuration.map_err(|error| format!("{error:?}"))?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let mut pen = Pen { faces, places: places(sheet, pages), links, images: HashMap::new() };
    let size = Size::from_wh(sheet.width as f32, sheet.height as f32).ok_or("a sheet has no size")?;
    for (number, page) in pages.iter().enumerate() {
        let mut on = document.start_page_with(PageSettings::new(size));
        let mut surface = on.surface();
        pen.running(&mut surface, sheet, running(faces, sheet, about, (number, pages.len()), &page.head));
        for mark in &page.marks {
            pen.mark(&mut surface, sheet, mark, &mut tags)?;
        }
        surface.finish();
        for mark in &page.marks {
            let What::Link { size: [width, height], link } = &mark.what else { continue };
            let Some(link) = pen.links.get(*link) else { continue };
            let Some((to, point)) = pen.places.get(&link.href) else { continue };
            let (x, y) = (sheet.left + mark.x, sheet.top + mark.y);
            let area = Rect::from_xywh(x as f32, y as f32, *width as f32, *height as f32);
            let Some(area) = area else { continue };
            let target = Target::Destination(XyzDestination::new(*to, *point).into());
            let annotation = Annotation::new_link(LinkAnnotation::new(area, target), Some(link.says.clone()));
            tags.fill(link.slot, on.add_tagged_annotation(annotation));
        }
        on.finish();
    }
    document.set_outline(outline(sheet, pages));
    document.set_metadata(metadata(about));
    document.set_tag_tree(tags.tree());
    document.finish().map(signed).map_err(|error| format!("{error:?}"))
}

/// Puts the program's mark, a comment, before the last line but two, where no address of the file changes by it.
fn signed(mut bytes: Vec<u8>) -> Vec<u8> {
    let last = b"startxref";
    if let Some(at) = bytes.windows(last.len()).rposition(|window| window == last) {
        let mark = format!("{}{}\n", super::MARK, env!("CARGO_PKG_VERSION"));
        bytes.splice(at..at, mark.into_bytes());
    }
    bytes
}

/// Where the places of a document are.
fn places(sheet: Sheet, pages: &[Page]) -> HashMap<String, (usize, Point)> {
    let mut out = HashMap::new();
    for (number, page) in pages.iter().enumerate() {
        for mark in &page.marks {
            if let What::Anchor(name) = &mark.what {
                out.entry(name.clone()).or_insert((number, above(sheet, mark)));
            }
        }
    }
    out
}

/// A little above a mark, so that what a link leads to is not cut.
fn above(sheet: Sheet, mark: &Mark) -> Point {
    Point::from_xy(0.0, (sheet.top + mark.y - 3.0 * MM).max(0.0) as f32)
}

fn outline(sheet: Sheet, pages: &[Page]) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (number, page) in pages.iter().enumerate() {
        for mark in &page.marks {
            let What::Entry { level, text } = &mark.what else { continue };
            let node = OutlineNode::new(text.clone(), XyzDestination::new(number, above(sheet, mark)));
            match &mut open {
                Some(parent) if *level > 1 => parent.push_child(node),
                _ => {
                    open.replace(node).into_iter().for_each(|done| outline.push_child(done));
                }
            }
        }
    }
    open.into_iter().for_each(|done| outline.push_child(done));
    outline
}

fn metadata(about: &About) -> Metadata {
    let program = format!("Twinwedge {}", env!("CARGO_PKG_VERSION"));
    let mut metadata = Metadata::new()
        .title(about.title.clone())
        .language("en".to_owned())
        .creator(program.clone())
        .producer(program);
    if !about.author.is_empty() {
        metadata = metadata.authors(vec![about.author.clone()]);
    }
    if let Some((year, month, day)) = about.date {
        metadata = metadata.creation_date(DateTime::new(year).month(month).day(day));
    }
    metadata
}

fn fill(colour: Colour, opacity: f64) -> Fill {
    let [red, green, blue] = colour;
    Fill { paint: rgb::Color::new(red, green, blue).into(), opacity: share(opacity), rule: FillRule::NonZero }
}

fn share(opacity: f64) -> NormalizedF32 {
    NormalizedF32::new(opacity as f32).unwrap_or(NormalizedF32::ONE)
}

fn stroke(line: &Line) -> Stroke {
    let [red, green, blue] = line.colour;
    let dash = || StrokeDash { array: line.dashes.iter().map(|part| *part as f32).collect(), offset: 0.0 };
    Stroke {
        paint: rgb::Color::new(red, green, blue).into(),
        width: line.width as f32,
        line_join: if line.round { LineJoin::Round } else { LineJoin::Miter },
        opacity: share(line.opacity),
        dash: (!line.dashes.is_empty()).then(dash),
        ..Stroke::default()
    }
}

/// A point in single precision.
fn point(x: f64, y: f64) -> Point {
    Point::from_xy(x as f32, y as f32)
}

impl Pen<'_> {
    /// What stands over and under the text of a page.
    fn running(&self, surface: &mut Surface<'_>, sheet: Sheet, around: Running) {
        if !around.head.is_empty() {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Header)));
            for Placed { at: [x, y], shaped, style } in around.head {
                self.text(surface, x, y, &shaped, style);
            }
            surface.set_stroke(None);
            surface.set_fill(Some(fill(HAIR, 1.0)));
            rectangle(surface, [sheet.left, sheet.top - 5.0 * MM], [sheet.text_width(), 0.5]);
            surface.end_tagged();
        }
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
        for Placed { at: [x, y], shaped, style } in around.foot {
            self.text(surface, x, y, &shaped, style);
        }
        surface.end_tagged();
    }

    fn text(&self, surface: &mut Surface<'_>, x: f64, y: f64, shaped: &Shaped, style: Style) {
        surface.set_stroke(None);
        surface.set_fill(Some(fill(style.colour, 1.0)));
        let font = self.faces.embedded(style.weight);
        surface.draw_glyphs(point(x, y), &shaped.glyphs, font, &shaped.text, style.size as f32, false);
    }

    fn mark(
        &mut self,
        surface: &mut Surface<'_>,
        sheet: Sheet,
        mark: &Mark,
        tags: &mut Tags,
    ) -> Result<(), String> {
        let (x, y) = (sheet.left + mark.x, sheet.top + mark.y);
        let decoration = ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout));
        match &mark.what {
            What::Text { shaped, style, slot } => {
                let tag = match slot {
                    Some(_) => ContentTag::Span(SpanTag::empty().with_actual_text(shaped.meant.as_deref())),
                    None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::PaginationOther)),
                };
                let piece = surface.start_tagged(tag);
                self.text(surface, x, y, shaped, *style);
                surface.end_tagged();
                slot.iter().for_each(|slot| tags.fill(*slot, piece));
            }
            What::PageOf { target, style, slot } => {
                let number = self
                    .places
                    .get(target)
                    .map_or_else(|| "–".to_owned(), |(page, _)| (page + 1).to_string());
                let shaped = self.faces.shape(style.weight, &number);
                let piece = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
                self.text(surface, x, y, &shaped, *style);
                surface.end_tagged();
                tags.fill(*slot, piece);
            }
            What::Area { size, fill: tone, line } => {
                surface.start_tagged(decoration);
                surface.set_fill(tone.map(|tone| fill(tone, 1.0)));
                surface.set_stroke(line.map(|(colour, width)| {
                    stroke(&Line { colour, width, opacity: 1.0, dashes: Vec::new(), round: false })
                }));
                rectangle(surface, [x, y], *size);
                surface.end_tagged();
            }
            What::Drawing { drawing, size, slot } => {
                let piece = surface.start_tagged(ContentTag::Other);
                let drawn = self.drawing(surface, drawing, [x, y], *size);
                surface.end_tagged();
                tags.fill(*slot, piece);
                drawn?;
            }
            What::Link { .. } | What::Anchor(_) | What::Entry { .. } | What::Head(_) => {}
        }
        Ok(())
    }

    fn drawing(
        &mut self,
        surface: &mut Surface<'_>,
        drawing: &Drawing,
        [x, y]: [f64; 2],
        [width, height]: [f64; 2],
    ) -> Result<(), String> {
        let scale = [width / drawing.units[0].max(1e-9), height / drawing.units[1].max(1e-9)];
        let shift = [x - drawing.from[0] * scale[0], y - drawing.from[1] * scale[1]];
        self.window(surface, [x, y, x + width, y + height], scale, shift, &drawing.shapes)
    }

    /// Shapes in a window: cut off at its edges, scaled and moved.
    fn window(
        &mut self,
        surface: &mut Surface<'_>,
        [left, top, right, bottom]: [f64; 4],
        scale: [f64; 2],
        shift: [f64; 2],
        shapes: &[Shape],
    ) -> Result<(), String> {
        let Some(edges) = outline_of([left, top], [right - left, bottom - top]) else { return Ok(()) };
        surface.push_clip_path(&edges, &FillRule::NonZero);
        let [across, down] = scale.map(|part| part as f32);
        let moved = Transform::from_row(across, 0.0, 0.0, down, shift[0] as f32, shift[1] as f32);
        surface.push_transform(&moved);
        let drawn = shapes.iter().try_for_each(|shape| self.shape(surface, shape));
        surface.pop();
        surface.pop();
        drawn
    }

    fn shape(&mut self, surface: &mut Surface<'_>, shape: &Shape) -> Result<(), String> {
        match shape {
            Shape::Path { steps, fill: tone, line } => {
                if tone.is_none() && line.is_none() {
                    return Ok(());
                }
                surface.set_fill(tone.map(|(colour, opacity)| fill(colour, opacity)));
                surface.set_stroke(line.as_ref().map(stroke));
                if let Some(path) = path(steps) {
                    surface.draw_path(&path);
                }
            }
            Shape::Text { at: [x, y], anchor, size, colour, halo, text } => {
                let shaped = self.faces.shape(Weight::Regular, text);
                let width = shaped.width * size;
                let x = match anchor {
                    Anchor::Start => *x,
                    Anchor::Middle => x - width / 2.0,
                    Anchor::End => x - width,
                };
                let font = || self.faces.embedded(Weight::Regular);
                if let Some((colour, width)) = halo {
                    let line = Line {
                        colour: *colour,
                        width: *width,
                        opacity: 1.0,
                        dashes: Vec::new(),
                        round: true,
                    };
                    surface.set_fill(None);
                    surface.set_stroke(Some(stroke(&line)));
                    surface.draw_glyphs(
                        point(x, *y),
                        &shaped.glyphs,
                        font(),
                        &shaped.text,
                        *size as f32,
                        true,
                    );
                }
                surface.set_stroke(None);
                surface.set_fill(Some(fill(*colour, 1.0)));
                surface.draw_glyphs(point(x, *y), &shaped.glyphs, font(), &shaped.text, *size as f32, false);
            }
            Shape::Picture { at: [x, y], size: [width, height], picture } => {
                let image = self.image(picture)?;
                let Some(size) = Size::from_wh(*width as f32, *height as f32) else { return Ok(()) };
                surface.push_transform(&Transform::from_translate(*x as f32, *y as f32));
                surface.draw_image(image, size);
                surface.pop();
            }
            Shape::Window { edges, scale, shift, shapes } => {
                self.window(surface, *edges, *scale, *shift, shapes)?;
            }
        }
        Ok(())
    }

    /// A picture is read once, however often it is shown.
    fn image(&mut self, picture: &Picture) -> Result<Image, String> {
        let key = std::rc::Rc::as_ptr(&picture.bytes) as usize;
        if let Some(known) = self.images.get(&key) {
            return Ok(known.clone());
        }
        let data = picture.bytes.to_vec().into();
        let image = if picture.png { Image::from_png(data, false) } else { Image::from_jpeg(data, false) }?;
        self.images.insert(key, image.clone());
        Ok(image)
    }
}

fn outline_of([x, y]: [f64; 2], [width, height]: [f64; 2]) -> Option<krilla::geom::Path> {
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x as f32, y as f32, width as f32, height as f32)?);
    path.finish()
}

fn rectangle(surface: &mut Surface<'_>, at: [f64; 2], size: [f64; 2]) {
    if let Some(path) = outline_of(at, size) {
        surface.draw_path(&path);
    }
}

fn path(steps: &[Step]) -> Option<krilla::geom::Path> {
    let mut path = PathBuilder::new();
    for step in steps {
        match *step {
            Step::Move(x, y) => path.move_to(x as f32, y as f32),
            Step::To(x, y) => path.line_to(x as f32, y as f32),
            Step::Curve(c) => {
                let [a, b, c, d, e, f] = c.map(|part| part as f32);
                path.cubic_to(a, b, c, d, e, f);
            }
            Step::Close => path.close(),
        }
    }
    path.finish()
}
