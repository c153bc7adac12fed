//! Pieces onto pages: what stays together, what is shown again, and where pages end.

use std::rc::Rc;

use super::piece::{Mark, Piece, What};

/// A page: its marks from the upper left corner of its text, how much of its height they take, and what stands over it.
#[derive(Debug, Clone, Default)]
pub(super) struct Page {
    pub(super) marks: Vec<Mark>,
    pub(super) used: f64,
    pub(super) head: String,
}

/// A page that holds less than this share of what it could is a runt where pages before it could give it more.
const RUNT: f64 = 0.2;

/// All pages of a document, for text of a height in points.
pub(super) fn pages(pieces: Vec<Piece>, height: f64) -> Vec<Page> {
    let mut out: Vec<Page> = Vec::new();
    let mut head = String::new();
    let mut chapter: Vec<Piece> = Vec::new();
    let mut close = |chapter: &mut Vec<Piece>, out: &mut Vec<Page>| {
        for mut page in even(&std::mem::take(chapter), height) {
            if let Some(text) = page.marks.iter().rev().find_map(|mark| match &mark.what {
                What::Head(text) => Some(text.clone()),
                _ => None,
            }) {
                head = text;
            }
            page.head.clone_from(&head);
            out.push(page);
        }
    };
    for piece in pieces {
        if piece.fresh && !chapter.is_empty() {
            close(&mut chapter, &mut out);
        }
        chapter.push(piece);
    }
    close(&mut chapter, &mut out);
    out
}

/// The pages of a chapter, the last of them no runt if that can be had without one more.
fn even(pieces: &[Piece], height: f64) -> Vec<Page> {
    let first = fill(pieces.to_vec(), &|_| height);
    let runt = |pages: &[Page]| pages.len() > 1 && pages.last().is_some_and(|page| page.used < RUNT * height);
    if !runt(&first) {
        return first;
    }
    // A few lines more fit above the foot of a page; else the page before the last ends earlier.
    let others = [1.02].into_iter().map(|share| (0, share));
    let earlier = [0.92, 0.84, 0.76, 0.68, 0.6, 0.52].into_iter().map(|share| (first.len() - 2, share));
    for (from, share) in others.chain(earlier) {
        let other = fill(pieces.to_vec(), &|page| if page >= from { share * height } else { height });
        if other.len() < first.len() || other.len() == first.len() && !runt(&other) {
            return other;
        }
    }
    first
}

/// A page while it is filled.
struct Filling<'a> {
    /// Height of the text of a page, by its number.
    height: &'a dyn Fn(usize) -> f64,
    done: Vec<Page>,
    page: Page,
    /// Room asked for after the last piece.
    after: f64,
    empty: bool,
}

impl Filling<'_> {
    fn turn(&mut self) {
        self.done.push(std::mem::take(&mut self.page));
        self.after = 0.0;
        self.empty = true;
    }

    fn room(&self, piece: &Piece) -> f64 {
        if self.empty { 0.0 } else { self.after.max(piece.before) }
    }

    fn height(&self) -> f64 {
        (self.height)(self.done.len())
    }

    fn fits(&self, height: f64) -> bool {
        self.page.used + height <= self.height() + 0.01
    }

    fn put(&mut self, mut piece: Piece) {
        let y = self.page.used + self.room(&piece);
        piece.shift(0.0, y);
        self.page.used = y + piece.height;
        self.page.marks.append(&mut piece.marks);
        self.after = piece.after;
        self.empty = false;
    }

    /// Puts a piece here or onto the next page, with the head of its table; one that fits on none is parted.
    fn place(&mut self, mut piece: Piece) {
        if !self.empty && !self.fits(self.room(&piece) + piece.height) {
            self.turn();
        }
        if self.empty
            && let Some(again) = piece.again.clone()
        {
            self.put(again.as_decoration());
        }
        loop {
            let left = self.height() - self.page.used - self.room(&piece);
            if piece.height <= left + 0.01 || left < 20.0 {
                break;
            }
            let (upper, lower) = piece.part(left);
            self.put(upper);
            self.turn();
            piece = lower;
        }
        self.put(piece);
    }
}

fn fill(pieces: Vec<Piece>, height: &dyn Fn(usize) -> f64) -> Vec<Page> {
    let mut filling = Filling { height, done: Vec::new(), page: Page::default(), after: 0.0, empty: true };
    let mut rest = pieces.into_iter().peekable();
    while let Some(first) = rest.next() {
        let mut group = vec![first];
        while group.last().is_some_and(|piece| piece.keep) {
            let Some(next) = rest.next() else { break };
            group.push(next);
        }
        let mut needs = filling.room(&group[0]) + group[0].height;
        for two in group.windows(2) {
            needs += two[0].after.max(two[1].before) + two[1].height;
        }
        let whole =
            group.iter().skip(1).fold(group[0].height, |sum, piece| sum + piece.before + piece.height);
        if !filling.empty && !filling.fits(needs) && whole <= filling.height() {
            filling.turn();
        }
        group.into_iter().for_each(|piece| filling.place(piece));
    }
    if !filling.empty {
        filling.turn();
    }
    filling.done
}

/// Gives every row of a table its head, to be shown again where it begins a page.
pub(super) fn with_head(head: Piece, rows: &mut [Piece]) {
    let head = Rc::new(head);
    rows.iter_mut().for_each(|row| row.again = Some(Rc::clone(&head)));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(height: f64) -> Piece {
        Piece {
            height,
            marks: vec![Mark::new(0.0, 1.0, What::Anchor(height.to_string()))],
            ..Piece::default()
        }
    }

    fn names(page: &Page) -> Vec<String> {
        let name = |mark: &Mark| match &mark.what {
            What::Anchor(name) => Some(name.clone()),
            _ => None,
        };
        page.marks.iter().filter_map(name).collect()
    }

    /// 100 points of page: 60 and 30 fit, 20 does not, and a heading of 10 goes over with what it stands above.
    #[test]
    fn a_heading_goes_over_with_what_it_stands_above() {
        let heading = Piece { keep: true, ..piece(10.0) };
        let pages = pages(vec![piece(60.0), heading, piece(50.0), piece(25.0)], 100.0);
        assert_eq!(pages.iter().map(names).collect::<Vec<_>>(), [vec!["60"], vec!["10", "50", "25"]]);
    }

    #[test]
    fn a_table_shows_its_head_again_on_every_further_page() {
        let text = What::Area { size: [1.0, 1.0], fill: None, line: None };
        let head = Piece { height: 10.0, marks: vec![Mark::new(0.0, 0.0, text)], ..Piece::default() };
        let mut rows = vec![piece(40.0), piece(41.0), piece(42.0), piece(43.0)];
        with_head(head.clone(), &mut rows);
        let all = std::iter::once(Piece { keep: true, ..head }).chain(rows).collect();
        let pages = pages(all, 100.0);
        let areas =
            |page: &Page| page.marks.iter().filter(|mark| matches!(mark.what, What::Area { .. })).count();
        assert_eq!(pages.iter().map(areas).collect::<Vec<_>>(), [1, 1]);
        assert_eq!(names(&pages[1]), ["42", "43"]);
    }

    /// Ten lines of 10 and one more would leave one line alone: nine and two are worse than what a reader sees as a page of text.
    #[test]
    fn no_page_holds_a_line_alone() {
        let pages = pages((0..11).map(|_| piece(10.0)).collect(), 100.0);
        assert_eq!(pages.len(), 2);
        assert!(pages[1].used >= 20.0, "{}", pages[1].used);
    }

    #[test]
    fn what_is_higher_than_a_page_is_parted_and_nothing_of_it_is_lost() {
        let marks =
            (0..50).map(|at| Mark::new(0.0, f64::from(at) * 10.0 + 5.0, What::Anchor(at.to_string())));
        let tall = Piece { height: 500.0, marks: marks.collect(), ..Piece::default() };
        let pages = pages(vec![piece(30.0), tall], 100.0);
        let seen: Vec<String> = pages.iter().flat_map(names).skip(1).collect();
        assert_eq!(seen, (0..50).map(|at| at.to_string()).collect::<Vec<_>>());
        assert!(pages.iter().all(|page| page.marks.iter().all(|mark| mark.y <= 100.0)));
    }
}
