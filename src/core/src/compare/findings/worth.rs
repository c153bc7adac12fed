//! Is it worth using? Speed against detail, and both against money.

use super::{Pair, Ratio, finding, sentence};
use crate::compare::difference::distinguishable;
use crate::compare::{About, Claim, Comparison, Finding, Kind, Verdict, format};
use crate::figures::{Difference, FigureId};
use crate::measured::{Flags, Measured, Value};

/// What a roll cost, as it was typed.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct RollPrice {
    /// Price with its currency.
    pub price: String,
    /// Format, with the frames of a roll where they are said: `135-36`.
    pub format: String,
}

/// A price that can be reckoned with.
#[derive(Debug, Clone, PartialEq)]
struct Money {
    amount: f64,
    currency: String,
}

impl RollPrice {
    /// The first number in the text, and what stands around it; why it cannot be reckoned with otherwise.
    fn money(&self) -> Result<Money, &'static str> {
        const UNREAD: &str = "Each price needs a number and one currency.";
        let text = self.price.trim();
        let digit = |c: char| c.is_ascii_digit();
        let start = text.find(digit).ok_or(UNREAD)?;
        let number = |c: char| digit(c) || matches!(c, '.' | ',');
        let end = text[start..].find(|c: char| !number(c)).map_or(text.len(), |length| start + length);
        let figures = text[start..end].trim_end_matches(['.', ',']);
        let decimals = decimal_sign(figures)?;
        let (whole, rest) = decimals.map_or((figures, ""), |sign| (&figures[..sign], &figures[sign + 1..]));
        let whole: String = whole.chars().filter(|c| digit(*c)).collect();
        let amount = format!("{whole}.{rest}0").parse().ok().filter(|amount| *amount > 0.0).ok_or(UNREAD)?;
        let around = format!("{} {}", text[..start].trim(), text[end..].trim());
        // What is said in brackets is no currency.
        let currency = around.split('(').next().unwrap_or_default().trim().to_owned();
        if currency.contains(digit) { Err(UNREAD) } else { Ok(Money { amount, currency }) }
    }

    /// What a frame costs, and the currency, where price and frames are on record.
    #[must_use]
    pub fn of_a_frame(&self) -> Option<(f64, String)> {
        let money = self.money().ok()?;
        Some((money.amount / self.frames()?, money.currency))
    }

    /// The frames of a roll, where the format says them: the number after that of the format.
    fn frames(&self) -> Option<f64> {
        let numbers = self.format.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty());
        let frames: u32 = numbers.skip(1).last()?.parse().ok()?;
        (1..=100).contains(&frames).then(|| f64::from(frames))
    }
}

/// Place of the decimal sign in a number as people write it: of two different signs the last, none where one sign stands
/// several times. A single sign before three digits may part thousands or decimals.
fn decimal_sign(figures: &str) -> Result<Option<usize>, &'static str> {
    let Some(last) = figures.rfind(['.', ',']) else { return Ok(None) };
    let (before, after) = (&figures[..last], &figures[last + 1..]);
    let sign = &figures[last..=last];
    match before.rfind(['.', ',']) {
        Some(_) if before.contains(sign) => Ok(None),
        None if after.len() == 3 && !before.trim_start_matches('0').is_empty() => {
            Err("A price such as 1.234 can be read two ways: write 1234, 1,234.00 or 1.23.")
        }
        _ => Ok(Some(last)),
    }
}

/// What a frame on each film costs.
struct Costs {
    /// Candidate's over the reference's, less 1.
    excess: f64,
    /// Candidate's less the reference's, for a frame or a roll.
    more: f64,
    each: [f64; 2],
    currency: String,
    unit: &'static str,
}

fn costs(prices: &[RollPrice; 2]) -> Result<Costs, &'static str> {
    let (first, second) = (prices[0].money()?, prices[1].money()?);
    if first.currency != second.currency {
        return Err("The prices are in different currencies.");
    }
    let alike = prices[0].format.trim().eq_ignore_ascii_case(prices[1].format.trim());
    let (each, unit) = match [prices[0].frames(), prices[1].frames()] {
        [Some(of_first), Some(of_second)] => ([first.amount / of_first, second.amount / of_second], "frame"),
        _ if alike => ([first.amount, second.amount], "roll"),
        _ => return Err("Say the frames of a roll with its format, as in 135-36."),
    };
    Ok(Costs {
        excess: each[1] / each[0] - 1.0,
        more: each[1] - each[0],
        each,
        currency: first.currency,
        unit,
    })
}

impl Comparison {
    /// Adds what a frame costs on both films, and what a stop of speed does. `prices` are the reference's and the candidate's;
    /// nothing is said where neither is on record.
    pub fn weigh_price(&mut self, prices: &[RollPrice; 2]) {
        if prices.iter().all(|price| price.price.trim().is_empty()) {
            return;
        }
        let (r, c) = (&self.reference, &self.candidate);
        let found = match costs(prices) {
            Err(why) => {
                let words = format!("What {c} and {r} cost cannot be compared.");
                finding(Kind::Price, Verdict::NotMeasured, words, &[]).with_detail(why)
            }
            Ok(costs) => self.priced(&costs),
        };
        self.insert_last(found);
    }

    fn priced(&self, costs: &Costs) -> Finding {
        let (r, c) = (&self.reference, &self.candidate);
        let speed = self.rows.iter().find(|row| row.figure == FigureId::SpeedPoint);
        let bounds = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
        let speed = speed.and_then(|row| row.difference.known());
        let speed = speed.copied().filter(|stops| !stops.flags.intersects(bounds));
        let faster = speed.filter(Measured::excludes_zero).map(|stops| stops.number() > 0.0);
        let same = costs.excess.abs() < 0.005;
        let words = match (same, costs.excess > 0.0, faster) {
            (true, _, Some(true)) => format!("{c} costs as much as {r}, and is faster."),
            (true, _, Some(false)) => format!("{c} costs as much as {r}, and is slower."),
            (true, _, None) => format!("{c} costs as much as {r}."),
            (_, true, Some(true)) => format!("{c} costs more than {r}, and gains speed for it."),
            (_, true, Some(false)) => format!("{c} costs more than {r}, and is slower."),
            (_, true, None) => format!("{c} costs more than {r}, and was not found to be faster."),
            (_, false, Some(true)) => format!("{c} costs less than {r}, and is faster."),
            (_, false, Some(false)) => format!("{c} costs less than {r}, and is slower."),
            (_, false, None) => format!("{c} costs less than {r}."),
        };
        let Costs { each, currency, unit, .. } = costs;
        let money = |amount: f64| format::with_unit(&format::number(amount, 2), currency);
        let a_stop = speed.filter(|_| faster == Some(true)).map(|stops| {
            let per = format::signed(costs.more / stops.number(), 2);
            format!("{} a {unit} for each stop gained", format::with_unit(&per, currency))
        });
        let times = format!("{} times", format::number(1.0 + costs.excess, 2));
        let figure = a_stop.map_or_else(|| times.clone(), |stop| format!("{times}; {stop}"));
        let detail = format!("A {unit} costs {} on {c}, {} on {r}.", money(each[1]), money(each[0]));
        let exact = Measured::normal(costs.excess, 0.0);
        let price = if same { Claim::size(About::Price, exact) } else { Claim::both(About::Price, exact) };
        let gain = speed.map(|stops| Claim::of(About::Speed, stops, faster.is_some()));
        let verdict = if same { Verdict::NotDistinguishable } else { Verdict::Differs };
        let found = finding(Kind::Price, verdict, words, &[FigureId::SpeedPoint]).with_figure(figure);
        found.with_detail(detail).claiming([Some(price), gain].into_iter().flatten())
    }
}

/// Speed against the sharpness of edges; nothing where that was not measured in both films.
pub(super) fn detail(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let Ok(ratio) = pair.ratio(FigureId::Mtf50) else { return };
    let stops = pair.by(Difference::SpeedStops, FigureId::SpeedPoint);
    let ids = [FigureId::SpeedPoint, FigureId::Mtf50];
    let of = |verdict, words| finding(Kind::SpeedForDetail, verdict, words, &ids);
    let Some(Value::Known(stops)) = stops else {
        let words = "Speed cannot be weighed against detail: it was not measured in both films.";
        list.push(
            of(Verdict::NotMeasured, words.to_owned()).with_detail(sentence(&pair.why(FigureId::SpeedPoint))),
        );
        return;
    };
    let faster = distinguishable(&Value::Known(stops)) == Some(true);
    let words = traded(pair, faster.then_some(stops), &ratio);
    let differs = faster || ratio.differs();
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    let claims = [Claim::of(About::Speed, stops, faster), ratio.claim(About::Modulation)];
    let detail = format!("Speed at the speed points; edges fall to half modulation at {}.", ratio.values);
    let figure = format!("{} stops, {}", format::difference(&stops, 2), ratio.figure());
    list.push(of(verdict, words).with_figure(figure).with_detail(detail).claiming(claims));
}

fn traded(pair: &Pair<'_>, stops: Option<Measured>, ratio: &Ratio) -> String {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let sharper = ratio.differs().then_some(ratio.times.value > 1.0);
    let Some(stops) = stops else {
        return match sharper {
            Some(sharper) => {
                let word = if sharper { "sharper" } else { "less sharp" };
                format!("Edges of {c} are {word} than those of {r}; their speeds are not distinguishable.")
            }
            None => format!("Neither in speed nor in sharpness are {c} and {r} distinguishable."),
        };
    };
    let thirds = format::in_thirds(&stops);
    let speed = thirds.map_or_else(|| "speed".to_owned(), |thirds| format!("{thirds} of speed"));
    match (stops.number() > 0.0, sharper) {
        (true, Some(false)) => format!("{c} buys {speed} with less sharp edges."),
        (false, Some(true)) => format!("{c} gives up {speed} for sharper edges."),
        (true, Some(true)) => format!("{c} gains {speed} over {r}, and its edges are sharper."),
        (false, Some(false)) => format!("{c} loses {speed} against {r}, and its edges are less sharp."),
        (true, None) => format!("{c} gains {speed} over {r}; in sharpness they are not distinguishable."),
        (false, None) => format!("{c} loses {speed} against {r}; in sharpness they are not distinguishable."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn roll(price: &str, format: &str) -> RollPrice {
        RollPrice { price: price.to_owned(), format: format.to_owned() }
    }

    /// As they are read aloud.
    #[test]
    fn prices_are_read_as_they_are_written() {
        let money = |text: &str| roll(text, "").money().ok().map(|money| (money.amount, money.currency));
        let of = |amount: f64, currency: &str| Some((amount, currency.to_owned()));
        assert_eq!(money("9.40 marsh shillings (invented)"), of(9.4, "marsh shillings"));
        assert_eq!(money("9,40 shillings"), of(9.4, "shillings"));
        assert_eq!(money("shillings 1,234.50"), of(1234.5, "shillings"));
        assert_eq!(money("1.234.567,50 shillings"), of(1_234_567.5, "shillings"));
        assert_eq!(money("1,234,567 shillings"), of(1_234_567.0, "shillings"));
        // The comma of one country's thousands is the decimal sign of another.
        for text in ["1.234 shillings", "1,234 shillings"] {
            assert!(roll(text, "").money().is_err_and(|why| why.contains("two ways")), "{text}");
        }
        assert_eq!(money("12"), of(12.0, ""));
        assert_eq!(money("0.500 pounds"), of(0.5, "pounds"));
        assert_eq!(money("3 for 20 shillings"), None);
        assert_eq!(money("a gift"), None);
    }

    /// Reckoned by hand: 9 for 36 frames is 0.25, 7.20 for 24 is 0.30, a fifth more.
    #[test]
    fn a_frame_costs_the_roll_over_its_frames() {
        let found =
            costs(&[roll("9 s", "135-36"), roll("7.20 s", "135-24")]).unwrap_or_else(|why| panic!("{why}"));
        assert!((found.excess - 0.2).abs() < 1e-12 && (found.more - 0.05).abs() < 1e-12);
        assert_eq!(found.unit, "frame");
        let alike = costs(&[roll("9 s", "120"), roll("12 s", "120")]).unwrap_or_else(|why| panic!("{why}"));
        assert!((alike.excess - 1.0 / 3.0).abs() < 1e-12 && alike.unit == "roll");
        assert!(costs(&[roll("9 s", "120"), roll("12 s", "135-36")]).is_err());
        assert!(costs(&[roll("9 s", "120"), roll("12 t", "120")]).is_err());
    }
}
