//! Families of rolls whose law of development is known: how often the stated intervals hold the truth.

use rand::Rng;
use rand_pcg::Pcg64;
use twinwedge_core::development::family::{self, Roll, Wanted};
use twinwedge_core::document::{DevelopmentChoices, FilmId, Induction, Process};
use twinwedge_core::figures::{Draws, FigureId, Figures};
use twinwedge_core::measured::{Measured, Value};

/// A normal number by Box and Muller's way, of a generator that the program does not use.
fn normal(generator: &mut Pcg64) -> f64 {
    let mut uniform = || (generator.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let (a, b) = (1.0 - uniform(), uniform());
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

struct Truth {
    limit: f64,
    rate: f64,
    induction: f64,
    coefficient: f64,
    error: f64,
}

impl Truth {
    fn gradient(&self, minutes: f64, celsius: f64) -> f64 {
        let rate = self.rate * self.coefficient.powf((celsius - 20.0) / 10.0);
        self.limit * (1.0 - (-rate * (minutes - self.induction)).exp())
    }

    fn minutes(&self, gradient: f64, celsius: f64) -> f64 {
        let rate = self.rate * self.coefficient.powf((celsius - 20.0) / 10.0);
        self.induction - (1.0 - gradient / self.limit).ln() / rate
    }

    fn roll(&self, generator: &mut Pcg64, minutes: f64, celsius: f64) -> Roll {
        let read = self.gradient(minutes, celsius) + self.error * normal(generator);
        let label = format!("Plover 640, {minutes} min at {celsius}");
        Roll {
            film: FilmId(label.clone()),
            label,
            process: Process { minutes: Some(minutes), temperature_c: Some(celsius), ..Process::default() },
            figures: Ok(Figures::from([(
                FigureId::AverageGradient,
                Value::Known(Measured::normal(read, self.error)),
            )])),
            draws: Draws::default(),
        }
    }
}

/// Share of families whose interval of the wanted time holds the truth, and how many had a time at all.
fn coverage(
    name: &str,
    truth: &Truth,
    rolls: &[(f64, f64)],
    wanted: f64,
    choices: &DevelopmentChoices,
) -> f64 {
    const FAMILIES: u64 = 600;
    let mut generator = Pcg64::new(2_024, 7);
    let (mut held, mut known, mut bias, mut width) = (0_u32, 0_u32, 0.0, 0.0);
    let exact = truth.minutes(wanted, 20.0);
    for family in 0..FAMILIES {
        let rolls: Vec<Roll> =
            rolls.iter().map(|(minutes, celsius)| truth.roll(&mut generator, *minutes, *celsius)).collect();
        let aim = Wanted {
            gradient: Value::Known(Measured::normal(wanted, 0.0)),
            from: "as typed".to_owned(),
            draws: None,
        };
        let of = rolls[0].film.clone();
        let found =
            family::develop(&rolls, &of, &aim, choices, family::Draws { count: 200, seed: family + 1 });
        let Value::Known(minutes) = found.time.minutes else { continue };
        known += 1;
        bias += minutes.value - exact;
        width += minutes.high - minutes.low;
        held += u32::from((minutes.low..=minutes.high).contains(&exact));
    }
    let n = f64::from(known);
    let share = f64::from(held) / n;
    println!(
        "{name:44} known {known:4} of {FAMILIES}, truth {exact:.2} min, bias {:+.3}, mean width {:.2}, held {:.1} %",
        bias / n,
        width / n,
        100.0 * share
    );
    assert!(n >= 0.95 * FAMILIES as f64, "{name}: only {known} families gave a time");
    share
}

#[test]
fn intervals_of_the_wanted_time_hold_the_truth() {
    let truth = Truth { limit: 0.95, rate: 0.11, induction: 0.0, coefficient: 2.4, error: 0.008 };
    let plain = DevelopmentChoices::default();
    let at = |times: &[f64]| times.iter().map(|minutes| (*minutes, 20.0)).collect::<Vec<_>>();
    let typed = DevelopmentChoices { temperature_coefficient: Some(2.4), ..plain.clone() };
    let warm: Vec<(f64, f64)> = vec![(6.0, 20.0), (9.0, 20.0), (13.0, 20.0), (6.0, 24.0), (9.0, 24.0)];
    let slow = Truth { induction: 0.8, ..truth };
    let fitted = DevelopmentChoices { induction: Induction::Fitted, ..plain.clone() };
    let studies = [
        (
            "two rolls, 7 and 12 min",
            coverage("two rolls, 7 and 12 min", &truth, &at(&[7.0, 12.0]), 0.60, &plain),
        ),
        (
            "three rolls",
            coverage("three rolls, 6, 9 and 13 min", &truth, &at(&[6.0, 9.0, 13.0]), 0.60, &plain),
        ),
        (
            "five rolls",
            coverage("five rolls, 5 to 14 min", &truth, &at(&[5.0, 7.0, 9.0, 11.0, 14.0]), 0.60, &plain),
        ),
        ("temperatures fitted", coverage("five rolls at 20 and 24 degrees", &truth, &warm, 0.60, &plain)),
        (
            "temperatures typed",
            coverage(
                "two rolls at 20 and 24 degrees, typed",
                &truth,
                &[(7.0, 20.0), (9.0, 24.0)],
                0.60,
                &typed,
            ),
        ),
        (
            "induction fitted",
            coverage(
                "five rolls, induction 0.8 min fitted",
                &slow,
                &at(&[5.0, 7.0, 9.0, 11.0, 14.0]),
                0.60,
                &fitted,
            ),
        ),
    ];
    for (name, share) in studies {
        // Three standard errors of a share of 0.95 in 600 are 0.027.
        assert!((0.923..=0.977).contains(&share), "{name}: {share}");
    }
}

#[test]
fn one_roll_is_assumed_and_says_so() {
    use twinwedge_core::development::Basis;
    use twinwedge_core::measured::Flags;
    let truth = Truth { limit: 0.95, rate: 0.11, induction: 0.0, coefficient: 2.4, error: 0.0 };
    let mut generator = Pcg64::new(1, 1);
    let roll = truth.roll(&mut generator, 9.0, 20.0);
    let aim = Wanted {
        gradient: Value::Known(Measured::normal(0.65, 0.0)),
        from: "as typed".to_owned(),
        draws: None,
    };
    let of = roll.film.clone();
    let found = family::develop(
        std::slice::from_ref(&roll),
        &of,
        &aim,
        &DevelopmentChoices::default(),
        family::Draws { count: 400, seed: 1 },
    );
    let minutes = *found.time.minutes.known().unwrap();
    assert!(minutes.flags.contains(Flags::ASSUMED | Flags::PREDICTED), "{minutes:?}");
    assert!((minutes.low..=minutes.high).contains(&truth.minutes(0.65, 20.0)), "{minutes:?}");
    assert_eq!(found.law.unwrap().basis, Basis::Assumed);
    assert!(found.notes.iter().any(|note| note.contains("two more rolls")), "{:?}", found.notes);
    for time in &found.table {
        if let Value::Known(minutes) = &time.minutes {
            assert!(minutes.flags.contains(Flags::ASSUMED), "{time:?}");
        }
    }
}
