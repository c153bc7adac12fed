//! Tables: widths of columns by what stands in them, rows, and heads that are shown again on every page.

use std::num::NonZeroU32;

use krilla::tagging::{TableHeaderScope, Tag};

use super::drawing::Parts;
use super::lines::{Align, Inline, extent, lines};
use super::pages::with_head;
use super::piece::{ACCENT, HAIR, INK, MM, Mark, Piece, Style, What, beside, stack};
use super::read::{Element, Node};
use super::setter::{At, SAME, Setter, rule};

/// Room between columns.
const GAP: f64 = 2.4 * MM;
/// Smallest letters of a table that is too wide, in points.
const SMALLEST: f64 = 6.4;
/// Widest remark under a value.
const REMARK: f64 = 40.0 * MM;

/// Width of the first column of a list of films.
const FILMS: f64 = 52.0 * MM;

/// A text of a cell, and whether it stays on one line.
struct Text {
    inlines: Vec<Inline>,
    whole: bool,
    remark: bool,
}

struct Cell {
    texts: Vec<Text>,
    columns: usize,
}

struct TableRow {
    cells: Vec<Cell>,
    head: bool,
    group: bool,
    /// Room to write in by hand.
    blank: bool,
    /// A place that links lead to.
    id: Option<String>,
}

impl Setter<'_> {
    pub(super) fn table(&mut self, element: &Element, at: At, parts: &Parts<'_>) -> Vec<Piece> {
        let table = self.tags.place(at.place, Tag::Table);
        let mut rows: Vec<TableRow> = Vec::new();
        // Without a head of its own the first cell of each row says what the row is.
        let headless = element.elements().all(|part| part.name != "thead");
        let small = element.is("sources");
        let zones = element.is("zones");
        for part in element.elements() {
            let head = part.name == "thead";
            let place = match part.name.as_str() {
                "thead" => self.tags.place(table, Tag::THead),
                "tbody" => self.tags.place(table, Tag::TBody),
                _ => continue,
            };
            for row in part.elements().filter(|row| row.name == "tr") {
                let place = self.tags.place(place, Tag::TR);
                let style = if small { Style::TABLE.sized(7.9, 10.8) } else { Style::TABLE };
                let cells = row.elements().enumerate().map(|(number, cell)| {
                    let same = row.is("same") && cell.is("d") || cell.is("same");
                    let style = if same { style.coloured(SAME) } else { style };
                    self.cell(cell, At { place, style, ..at }, parts, (head, headless && number == 0), zones)
                });
                rows.push(TableRow {
                    cells: cells.collect(),
                    head,
                    group: row.is("group"),
                    blank: row.is("blank"),
                    id: row.attribute("id").map(str::to_owned),
                });
            }
        }
        let widths = self.widths(&mut rows, at.width, element.is("all"));
        let mut heads = Vec::new();
        let mut body = Vec::new();
        for row in &rows {
            let mut piece = self.row(row, &widths, at.width);
            if let Some(id) = &row.id {
                piece.marks.push(Mark::new(0.0, 0.0, What::Anchor(id.clone())));
            }
            if row.head { heads.push(piece) } else { body.push(piece) }
        }
        let count = body.len();
        for (number, piece) in body.iter_mut().enumerate() {
            // No row stands alone on a page, and no name of a group below its rows.
            piece.keep |= number + 1 < count && (number == 0 || number + 2 == count);
        }
        let mut out = Vec::new();
        if !heads.is_empty() {
            let mut head = stack(heads);
            head.before = 1.5 * MM;
            with_head(head.clone(), &mut body);
            head.keep = true;
            out.push(head);
        }
        out.extend(body);
        if let Some(last) = out.last_mut() {
            (last.after, last.keep) = (2.5 * MM, false);
        }
        out
    }

    fn cell(
        &mut self,
        cell: &Element,
        at: At,
        parts: &Parts<'_>,
        (head, names): (bool, bool),
        zones: bool,
    ) -> Cell {
        let columns = cell.number("colspan").map_or(1, |columns| columns.max(1.0) as usize);
        let span = NonZeroU32::new(columns as u32).filter(|columns| columns.get() > 1);
        let th = cell.name == "th";
        let place = if th || names {
            let scope = if head { TableHeaderScope::Column } else { TableHeaderScope::Row };
            self.tags.place(at.place, Tag::TH(scope).with_col_span(span))
        } else {
            self.tags.place(at.place, Tag::TD.with_col_span(span))
        };
        let mut style = at.style;
        if th {
            style = style.sized(style.size * 0.95, style.leading).strong();
        }
        if cell.is("candidate") {
            style = style.coloured(ACCENT);
        }
        let whole = !head && cell.is("v") || zones;
        let mut texts: Vec<Text> = Vec::new();
        let mut run: Vec<Node> = Vec::new();
        let mut pending = Vec::new();
        for node in &cell.children {
            match node {
                Node::Element(block) if ["div", "p", "ul", "li"].contains(&block.name.as_str()) => {
                    pending.push((std::mem::take(&mut run), false));
                    pending.push((block.children.clone(), true));
                }
                _ => run.push(node.clone()),
            }
        }
        pending.push((run, false));
        for (nodes, remark) in pending {
            let style =
                if remark { Style { colour: Style::SMALL.colour, ..style.sized(7.4, 9.8) } } else { style };
            let inlines = self.inlines(&nodes, style, place, None, parts);
            if extent(self.faces, &inlines).1 > 0.0 {
                texts.push(Text { inlines, whole: whole && !remark, remark: remark && whole });
            }
        }
        Cell { texts, columns }
    }

    /// Widths of columns; letters are made smaller until the table fits.
    fn widths(&self, rows: &mut [TableRow], width: f64, first_wide: bool) -> Vec<f64> {
        let columns =
            rows.iter().map(|row| row.cells.iter().map(|cell| cell.columns).sum()).max().unwrap_or(0);
        self.align(rows, columns);
        let room = width - GAP * columns.saturating_sub(1) as f64;
        let mut share = 1.0;
        loop {
            let (mut least, mut most) = self.extents(rows, columns);
            if first_wide && columns > 2 {
                // Of a list of films the first column has their names, and a sentence under each.
                least[0] = least[0].max(FILMS.min(most[0]));
                most[0] = most[0].max(FILMS);
            }
            let (sum_least, sum_most): (f64, f64) = (least.iter().sum(), most.iter().sum());
            let smaller = share * 0.94;
            if sum_least > room && Style::TABLE.size * smaller > SMALLEST {
                share = smaller;
                rows.iter_mut().for_each(|row| row.shrink(0.94));
                continue;
            }
            if sum_least > room {
                return least.iter().map(|own| own * room / sum_least).collect();
            }
            if sum_most <= room {
                return roomy(&most, room, first_wide);
            }
            let free = (room - sum_least) / (sum_most - sum_least).max(1e-9);
            return least.iter().zip(&most).map(|(least, most)| least + (most - least) * free).collect();
        }
    }

    /// Sets numbers of a column under each other at their decimal points: as wide as the widest of it before and after.
    fn align(&self, rows: &mut [TableRow], columns: usize) {
        let mut widest = vec![[0.0_f64; 2]; columns];
        for pass in 0..2 {
            for row in rows.iter_mut() {
                let mut column = 0;
                for cell in &mut row.cells {
                    for inline in cell.texts.iter_mut().flat_map(|text| text.inlines.iter_mut()) {
                        let Inline::Wide { text, look, ems, right } = inline else { continue };
                        let most = &mut widest[column][usize::from(*right)];
                        if pass == 0 {
                            *most = most.max(self.faces.width(look.style.weight, text));
                        } else {
                            *ems = *most;
                        }
                    }
                    column += cell.columns;
                }
            }
        }
    }

    fn extents(&self, rows: &[TableRow], columns: usize) -> (Vec<f64>, Vec<f64>) {
        let (mut least, mut most) = (vec![0.0_f64; columns], vec![0.0_f64; columns]);
        for row in rows {
            let mut column = 0;
            for cell in &row.cells {
                if cell.columns == 1 {
                    for text in &cell.texts {
                        let (narrow, wide) = extent(self.faces, &text.inlines);
                        let wide = if text.remark { wide.min(REMARK) } else { wide };
                        let narrow = if text.whole { wide } else { narrow };
                        least[column] = least[column].max(narrow);
                        most[column] = most[column].max(wide);
                    }
                }
                column += cell.columns;
            }
        }
        (least, most)
    }

    fn row(&self, row: &TableRow, widths: &[f64], width: f64) -> Piece {
        let (mut column, mut x) = (0, 0.0);
        let mut cells = Vec::new();
        for cell in &row.cells {
            let last = (column + cell.columns).min(widths.len());
            let own =
                widths[column..last].iter().sum::<f64>() + GAP * (last - column).saturating_sub(1) as f64;
            let set = |text: &Text| {
                stack(lines(
                    self.faces,
                    &text.inlines,
                    if text.remark { own.min(REMARK) } else { own },
                    Align::Left,
                ))
            };
            cells.push((x, stack(cell.texts.iter().map(set).collect())));
            x += own + GAP;
            column = last;
        }
        if row.head {
            // Heads stand on the line below them.
            let tallest = cells.iter().map(|(_, cell)| cell.height).fold(0.0, f64::max);
            for (_, cell) in &mut cells {
                let down = tallest - cell.height;
                cell.shift(0.0, down);
                cell.height = tallest;
            }
        }
        let mut piece = beside(cells);
        piece.height = piece.height.max(if row.blank { 7.0 * MM } else { 0.0 });
        let above = if row.group { 2.6 * MM } else { 0.7 * MM };
        piece.shift(0.0, above);
        piece.height += above + 0.7 * MM;
        let (thick, colour) = if row.head || row.group { (0.8, INK) } else { (0.5, HAIR) };
        piece.marks.push(rule(0.0, piece.height - thick, width, thick, colour));
        piece.keep = row.group;
        piece
    }
}

impl TableRow {
    /// Makes its letters smaller.
    fn shrink(&mut self, share: f64) {
        let texts = self.cells.iter_mut().flat_map(|cell| cell.texts.iter_mut());
        for inline in texts.flat_map(|text| text.inlines.iter_mut()) {
            match inline {
                Inline::Text { look, .. }
                | Inline::Wide { look, .. }
                | Inline::Picture { look, .. }
                | Inline::PageOf { look, .. } => {
                    look.style = look.style.sized(look.style.size * share, look.style.leading * share);
                }
                Inline::Break => {}
            }
        }
    }
}

/// A table that has room to spare is no wider than is read well: columns get some of it, the first of a list of films most.
fn roomy(most: &[f64], room: f64, first_wide: bool) -> Vec<f64> {
    let sum: f64 = most.iter().sum();
    if first_wide {
        let spare = room - sum;
        return most.iter().enumerate().map(|(at, own)| if at == 0 { own + spare } else { *own }).collect();
    }
    most.iter().map(|own| own * room / sum.max(1e-9)).collect()
}
