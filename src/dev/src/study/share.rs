//! A share of cases, and how surely so many cases tell it.

/// Share of 95 % intervals that shall hold the truth.
pub(super) const WANTED: (f64, f64) = (0.93, 0.97);

/// How a share of cases stands to the one that is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// It is in 93 to 97 %.
    Within,
    /// It is not, but so few series cannot tell it from that.
    Open,
    /// It is not, and not by chance.
    Outside,
}

/// A share and its 95 % interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Share {
    /// Of all cases.
    pub(crate) share: f64,
    /// Its 95 % interval.
    pub(crate) between: (f64, f64),
}

impl Share {
    /// The share of cases that hold, of which each series has so many and so many in all: `(holding, all)`.
    ///
    /// Cases of one series share its tablet, its light and its calibration, so that they hold or miss together. What all cases
    /// are worth follows from how the series scatter (ratio estimate: W. G. Cochran, Sampling Techniques, 1977, section 6.3),
    /// never more than independent ones. Of so many independent cases the interval is that of E. B. Wilson, J. Am. Stat. Assoc.
    /// 22 (1927). `None` without cases.
    pub(crate) fn of(series: &[(usize, usize)]) -> Option<Self> {
        let counted: Vec<(f64, f64)> = series
            .iter()
            .filter(|(_, all)| *all > 0)
            .map(|(held, all)| (*held as f64, *all as f64))
            .collect();
        let all: f64 = counted.iter().map(|(_, all)| all).sum();
        if counted.is_empty() {
            return None;
        }
        let many = counted.len() as f64;
        let share = counted.iter().map(|(held, _)| held).sum::<f64>() / all;
        let apart: f64 = counted.iter().map(|(held, all)| (held - share * all).powi(2)).sum();
        let variance = apart / (all * all) * many / (many - 1.0).max(1.0);
        // As many as independent cases would be that scatter as much (L. Kish, Survey Sampling, 1965, section 8.2). Without scatter,
        // each series counts once.
        let independent = share * (1.0 - share) / (all - 1.0).max(1.0);
        let worth = if variance > 0.0 { all * (independent / variance).min(1.0) } else { many };
        Some(Self { share, between: wilson(share, worth) })
    }

    /// Whether it is what is wanted.
    pub(crate) fn standing(&self) -> Standing {
        if (WANTED.0..=WANTED.1).contains(&self.share) {
            Standing::Within
        } else if self.between.0 <= WANTED.1 && WANTED.0 <= self.between.1 {
            Standing::Open
        } else {
            Standing::Outside
        }
    }
}

/// The 95 % interval of a share found in `n` cases.
fn wilson(share: f64, n: f64) -> (f64, f64) {
    let z = 1.959_964_f64;
    let (centre, scale) = (share + z * z / (2.0 * n), 1.0 + z * z / n);
    let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    ((centre - half) / scale, (centre + half) / scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R. G. Newcombe, Statist. Med. 17 (1998), table I: 81 of 263 by Wilson's score method 0.2553 to 0.3662.
    #[test]
    fn independent_cases_have_the_published_interval() {
        let series: Vec<(usize, usize)> = (0..263).map(|case| (usize::from(case < 81), 1)).collect();
        let share = Share::of(&series).unwrap();
        assert!(
            (share.between.0 - 0.2553).abs() < 1e-4 && (share.between.1 - 0.3662).abs() < 1e-4,
            "{share:?}"
        );
    }

    /// By definition: cases that only repeat each other tell no more than one of them.
    #[test]
    fn repeated_cases_tell_no_more() {
        let one: Vec<(usize, usize)> = (0..100).map(|case| (usize::from(case < 90), 1)).collect();
        let ten: Vec<(usize, usize)> = one.iter().map(|(held, all)| (10 * held, 10 * all)).collect();
        let (one, ten) = (Share::of(&one).unwrap(), Share::of(&ten).unwrap());
        assert!((one.between.0 - ten.between.0).abs() < 2e-3, "{one:?} {ten:?}");
        assert_eq!(
            (one.standing(), Share::of(&[(95, 100), (95, 100)]).unwrap().standing()),
            (Standing::Open, Standing::Within)
        );
    }
}
