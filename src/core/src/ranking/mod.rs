//! Many films in order by one figure, and how sure each one's place is.
//!
//! Of fifty films some two will differ by more than 95 % intervals for single pairs allow, although they are the same. Places are
//! therefore stated for all films together: film `j` is ahead of film `i` where their difference exceeds `q` times its standard
//! deviation, `q` being the 95 % quantile, over draws of all errors, of the greatest such quotient among all pairs (J. W. Tukey, "The
//! Problem of Multiple Comparisons", 1953, with draws in place of the studentised range). A film's place lies between one more
//! than the number of films ahead of it, and the number of films that are not behind it; with 95 % confidence that holds for all
//! films at once (D. Al Mohamad, J. J. Goeman and E. W. van Zwet, "Simultaneous confidence intervals for ranks with application to
//! ranking institutions", Biometrics 78, 2022, 238-247).
//!
//! Films that may be the first: those whose value is not so far behind any other's as only one case in twenty would bring the true
//! first one (S. S. Gupta, "On some multiple decision (selection and ranking) rules", Technometrics 7, 1965, 225-245).

mod conclusions;

pub use conclusions::{Conclusion, Left, Ranked, Standing, Topic, conclusions};

use crate::measured::Measured;
use crate::numeric::random::Stream;
use crate::numeric::robust;

/// Share of cases in which everything that is stated holds.
const CONFIDENCE: f64 = 0.95;
/// Draws that are made where the films' figures have none.
const DRAWS: usize = 1_000;
/// Seed of these.
const SEED: u64 = 0x5EED_0F0D;

/// A film's value of the figure.
#[derive(Debug, Clone, Copy)]
pub struct Entry<'a> {
    /// The film's best value of the figure.
    pub value: f64,
    /// Its standard uncertainty; used where there are no draws.
    pub u: f64,
    /// Its draws: draw `k` of every film has the same errors of what the films share.
    pub draws: Option<&'a [f64]>,
}

impl<'a> Entry<'a> {
    /// A measured value with its draws.
    #[must_use]
    pub fn new(measured: &Measured, draws: Option<&'a [f64]>) -> Self {
        Self { value: measured.number(), u: measured.u, draws }
    }
}

/// Films in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ranks {
    /// Their numbers, the highest value first.
    pub order: Vec<usize>,
    /// For each film the best and the worst place that it may have, from 1; together they hold with 95 % confidence.
    pub places: Vec<[usize; 2]>,
    /// Those that may be the first, in their order; the true first one is among them with 95 % confidence.
    pub foremost: Vec<usize>,
}

/// Puts films in order by one figure, the highest value first. Films without draws are taken as independent of the others.
#[must_use]
pub fn rank(entries: &[Entry<'_>]) -> Ranks {
    let count = entries.len();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|i, j| entries[*j].value.total_cmp(&entries[*i].value));
    let errors = errors(entries);
    let spreads = Spreads::of(&errors);
    let critical = spreads.of_all_pairs(&errors);
    let ahead = |i: usize, j: usize| entries[j].value - entries[i].value > critical * spreads.get(i, j);
    let places = (0..count)
        .map(|i| {
            let before = (0..count).filter(|j| ahead(i, *j)).count();
            let behind = (0..count).filter(|j| ahead(*j, i)).count();
            [before + 1, count - behind]
        })
        .collect();
    let may_be_first = |i: &usize| {
        let critical = spreads.of_one(&errors, *i);
        (0..count).all(|j| entries[j].value - entries[*i].value <= critical * spreads.get(*i, j))
    };
    let foremost = order.iter().copied().filter(may_be_first).collect();
    Ranks { order, places, foremost }
}

/// The errors of each film, draw by draw, about zero; as many for each.
fn errors(entries: &[Entry<'_>]) -> Vec<Vec<f64>> {
    let shortest = entries.iter().filter_map(|entry| entry.draws.map(<[f64]>::len)).min();
    let count = shortest.filter(|count| *count > 0).unwrap_or(DRAWS);
    let of_entry = |(number, entry): (usize, &Entry<'_>)| {
        let known = entry.draws.and_then(|draws| centred(&draws[..count]));
        known.unwrap_or_else(|| {
            let mut stream = Stream::new(SEED, number as u64);
            (0..count).map(|_| entry.u * stream.normal()).collect()
        })
    };
    entries.iter().enumerate().map(of_entry).collect()
}

/// Draws about their median. One that is missing has the error of the draw before it; too many that are missing say nothing.
fn centred(draws: &[f64]) -> Option<Vec<f64>> {
    let known: Vec<f64> = draws.iter().copied().filter(|draw| draw.is_finite()).collect();
    if known.len() * 2 < draws.len() {
        return None;
    }
    let middle = robust::median(&known)?;
    let mut last = *known.last()? - middle;
    let mut error = |draw: &f64| {
        if draw.is_finite() {
            last = draw - middle;
        }
        last
    };
    Some(draws.iter().map(&mut error).collect())
}

/// Standard deviations of the difference of each two films.
struct Spreads {
    count: usize,
    of_pairs: Vec<f64>,
}

impl Spreads {
    fn of(errors: &[Vec<f64>]) -> Self {
        let count = errors.len();
        let mut of_pairs = vec![0.0; count * count];
        for i in 0..count {
            for j in i + 1..count {
                let squares = errors[i].iter().zip(&errors[j]).map(|(a, b)| (a - b) * (a - b));
                let spread = (squares.sum::<f64>() / errors[i].len().max(1) as f64).sqrt();
                of_pairs[i * count + j] = spread;
                of_pairs[j * count + i] = spread;
            }
        }
        Self { count, of_pairs }
    }

    fn get(&self, i: usize, j: usize) -> f64 {
        self.of_pairs[i * self.count + j]
    }

    /// What the greatest difference of any two, in its standard deviations, stays below in 95 of 100 draws.
    fn of_all_pairs(&self, errors: &[Vec<f64>]) -> f64 {
        let greatest = |k: usize| {
            let pairs = (0..self.count).flat_map(|i| (i + 1..self.count).map(move |j| (i, j)));
            pairs
                .map(|(i, j)| quotient((errors[i][k] - errors[j][k]).abs(), self.get(i, j)))
                .fold(0.0, f64::max)
        };
        self.quantile(errors, greatest)
    }

    /// What the greatest lead of any other film over this one, in its standard deviations, stays below in 95 of 100 draws.
    fn of_one(&self, errors: &[Vec<f64>], one: usize) -> f64 {
        let greatest = |k: usize| {
            let others = (0..self.count).filter(|j| *j != one);
            others.map(|j| quotient(errors[j][k] - errors[one][k], self.get(one, j))).fold(0.0, f64::max)
        };
        self.quantile(errors, greatest)
    }

    fn quantile(&self, errors: &[Vec<f64>], greatest: impl Fn(usize) -> f64) -> f64 {
        let draws = errors.first().map_or(0, Vec::len);
        let all: Vec<f64> = (0..draws).map(greatest).collect();
        robust::quantile_of_sorted(&robust::sorted(&all), CONFIDENCE).unwrap_or(0.0)
    }
}

/// A difference in its standard deviations; none where nothing differs.
fn quotient(difference: f64, spread: f64) -> f64 {
    if spread > 0.0 { difference / spread } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(values: &[(f64, f64)]) -> Ranks {
        let entries: Vec<Entry<'_>> =
            values.iter().map(|(value, u)| Entry { value: *value, u: *u, draws: None }).collect();
        rank(&entries)
    }

    #[test]
    fn films_far_apart_have_one_place_each() {
        let found = plain(&[(1.0, 0.01), (3.0, 0.01), (2.0, 0.01)]);
        assert_eq!(found.order, [1, 2, 0]);
        assert_eq!(found.places, [[3, 3], [1, 1], [2, 2]]);
        assert_eq!(found.foremost, [1]);
    }

    #[test]
    fn films_alike_share_their_places() {
        let found = plain(&[(1.00, 0.1), (1.02, 0.1), (5.0, 0.1)]);
        assert_eq!(found.places, [[2, 3], [2, 3], [1, 1]]);
        let found = plain(&[(1.0, 0.1); 4]);
        assert_eq!(found.places, [[1, 4]; 4]);
        assert_eq!(found.foremost.len(), 4);
    }

    /// Studentised range for many degrees of freedom: 2.772 for 2 films, 3.633 for 4, 4.474 for 10 (H. L. Harter, "Tables of Range and
    /// Studentized Range", Annals of Mathematical Statistics 31, 1960; as scipy 1.17.1 gives them, `studentized_range.ppf`). A difference has the square root of two times a film's deviation.
    #[test]
    fn the_critical_quotient_is_that_of_the_studentised_range() {
        for (count, range) in [(2, 2.772), (4, 3.633), (10, 4.474)] {
            let mut stream = Stream::new(7, 0);
            let draws: Vec<Vec<f64>> =
                (0..count).map(|_| (0..20_000).map(|_| stream.normal()).collect()).collect();
            let found = Spreads::of(&draws).of_all_pairs(&draws) * 2.0_f64.sqrt();
            assert!((found / range - 1.0).abs() < 0.015, "{count} films: {found} against {range}");
        }
    }

    /// An error that all films share moves them alike and hides no order.
    #[test]
    fn what_films_share_cancels() {
        let mut stream = Stream::new(11, 0);
        let common: Vec<f64> = (0..400).map(|_| stream.normal()).collect();
        let draws: Vec<Vec<f64>> = [1.0, 1.1, 1.2]
            .iter()
            .map(|value| common.iter().map(|error| value + error + 0.01 * stream.normal()).collect())
            .collect();
        let entries: Vec<Entry<'_>> = draws
            .iter()
            .zip([1.0, 1.1, 1.2])
            .map(|(draws, value)| Entry { value, u: 1.0, draws: Some(draws) })
            .collect();
        assert_eq!(rank(&entries).places, [[3, 3], [2, 2], [1, 1]]);
    }

    #[test]
    fn nothing_and_one_film_are_ranked_too() {
        assert_eq!(plain(&[]), Ranks { order: vec![], places: vec![], foremost: vec![] });
        assert_eq!(plain(&[(1.0, 0.1)]), Ranks { order: vec![0], places: vec![[1, 1]], foremost: vec![0] });
    }

    /// By simulation: with 30 films of close true values, the places of all of them hold the truth in at least 95 of 100 series
    /// (less three standard deviations of the count), and so does the set of those that may be the first.
    #[test]
    fn places_hold_the_truth_for_all_films_at_once() {
        const SERIES: u64 = 400;
        let (mut all, mut first) = (0_u64, 0_u64);
        for number in 0..SERIES {
            let mut stream = Stream::new(31, number);
            let truth: Vec<f64> = (0..30).map(|_| 0.5 * stream.normal()).collect();
            let entries: Vec<Entry<'_>> = truth
                .iter()
                .map(|truth| Entry { value: truth + 0.2 * stream.normal(), u: 0.2, draws: None })
                .collect();
            let found = rank(&entries);
            let place = |i: usize| 1 + truth.iter().filter(|other| **other > truth[i]).count();
            let holds = |i: usize| (found.places[i][0]..=found.places[i][1]).contains(&place(i));
            all += u64::from((0..30).all(holds));
            first += u64::from((0..30).any(|i| place(i) == 1 && found.foremost.contains(&i)));
        }
        let least = 0.95 * SERIES as f64 - 3.0 * (0.95 * 0.05 * SERIES as f64).sqrt();
        assert!(all as f64 >= least, "{all} of {SERIES}");
        assert!(first as f64 >= least, "{first} of {SERIES}");
    }
}
