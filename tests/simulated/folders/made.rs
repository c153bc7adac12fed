//! Folders as people keep them, made by chance from a seed, with the truth of each file and one planted fault where that is
//! wanted.

use std::fs::File;
use std::path::Path;

use tiff::encoder::colortype::Gray16;
use tiff::encoder::{Rational, TiffEncoder};
use tiff::tags::ResolutionUnit;
use twinwedge_workbench::folder::Kind;

use super::naming::{Habit, Of, Part};
use super::tables::Writing;
use crate::scans::kept::{Codes, Desk, Exposed, Lies, Spoilt};
use crate::shared::chance::Chance;

/// Names of films: invented, after waders.
const FILMS: [&str; 26] = [
    "Tern 160",
    "Plover 640",
    "Dunlin 40",
    "Godwit 1000",
    "Avocet 250",
    "Stilt 50",
    "Knot 100",
    "Ruff 400",
    "Curlew 320",
    "Whimbrel 125",
    "Turnstone 80",
    "Sanderling 200",
    "Phalarope 500",
    "Lapwing 64",
    "Snipe 25",
    "Woodcock 3200",
    "Redshank 100",
    "Greenshank 400",
    "Oystercatcher 800",
    "Sandpiper 20",
    "Jacana 1600",
    "Stint 32",
    "Tern 400",
    "Ruff Pan 100",
    "Crake 12",
    "Pratincole 50",
];

/// Exposure indices in thirds of a stop (ISO 5800:1987, table 1, goes on alike).
const INDICES: [u32; 25] = [
    12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600,
    2000, 2500, 3200,
];

/// What can be wrong with a folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fault {
    Exchanged,
    WrongTablet,
    Turned,
    Inverted,
    Stretched,
    IndexTwice,
    Thousands,
    AnotherSubject,
}

impl Fault {
    pub(super) const ALL: [Self; 8] = [
        Self::Exchanged,
        Self::WrongTablet,
        Self::Turned,
        Self::Inverted,
        Self::Stretched,
        Self::IndexTwice,
        Self::Thousands,
        Self::AnotherSubject,
    ];
}

/// What one file truly is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Truth {
    /// Relative to the folder.
    pub(super) name: String,
    pub(super) kind: Kind,
    /// Its film as a label, with its roll or its time of development where a film has several.
    pub(super) film: Option<String>,
    /// Steps of its tablet, for strips and tablets.
    pub(super) steps: Option<usize>,
    /// Where a strip's steps lie.
    pub(super) lies: Option<Lies>,
}

/// A folder that was made.
pub(super) struct Made {
    pub(super) folder: tempfile::TempDir,
    pub(super) files: Vec<Truth>,
    /// What was planted, and the files of which any one must be doubted.
    pub(super) planted: Option<(Fault, Vec<String>)>,
    pub(super) story: String,
}

/// A tablet: number of steps, their densities, the length of one in millimetres.
struct Tablet {
    densities: Vec<f64>,
    step: f64,
}

impl Tablet {
    fn of(steps: usize, chance: &mut Chance) -> Self {
        let (increment, step) = match steps {
            11 => (0.30, 13.0),
            31 => (0.10, 4.8),
            _ => (0.15, 7.0),
        };
        let density = |at: usize| 0.05 + increment * at as f64 + 0.004 * chance.normal();
        let densities = (0..steps).map(density).collect();
        Self { densities, step: step * (0.97 + 0.06 * chance.even()) }
    }
}

/// A film as it answers to light.
#[derive(Clone, Copy)]
struct Film {
    base: f64,
    gamma: f64,
    /// Length of its straight part in log H, and how sharply toe and shoulder bend.
    length: f64,
    bend: f64,
    /// Log H at the foot of its straight line, below the light behind the first step.
    toe: f64,
}

impl Film {
    fn of(chance: &mut Chance) -> Self {
        let between = |chance: &mut Chance, low: f64, high: f64| low + (high - low) * chance.even();
        Self {
            base: between(chance, 0.15, 0.34),
            gamma: between(chance, 0.52, 0.85),
            length: between(chance, 2.0, 2.7),
            bend: between(chance, 0.07, 0.14),
            toe: between(chance, 1.9, 2.6),
        }
    }

    /// Straight between two bends that die out as exponentials.
    fn density(&self, log_h: f64) -> f64 {
        let soft = |x: f64| self.bend * (x / self.bend).exp().ln_1p();
        let above = log_h + self.toe;
        self.base + self.gamma * (soft(above) - soft(above - self.length))
    }

    fn through(&self, tablet: &Tablet, stops_less: f64) -> Vec<f64> {
        tablet.densities.iter().map(|density| self.density(-density - 0.301 * stops_less)).collect()
    }
}

/// One roll of a film.
struct Roll<'a> {
    film: &'a str,
    curve: Film,
    roll: Option<u32>,
    minutes: Option<f64>,
    label: String,
}

struct Maker {
    chance: Chance,
    desk: Desk,
    habit: Habit,
    writing: Writing,
    root: tempfile::TempDir,
    files: Vec<Truth>,
    numbers: u64,
}

impl Maker {
    fn put_scan(
        &mut self,
        stem: &str,
        codes: &Codes,
        kind: Kind,
        film: Option<&str>,
        steps: Option<usize>,
    ) -> String {
        let name = self.free(stem, "tif");
        write(&self.root.path().join(&name), codes, self.desk.dpi);
        self.files.push(Truth { name: name.clone(), kind, film: film.map(str::to_owned), steps, lies: None });
        name
    }

    fn put_text(&mut self, stem: &str, text: &str, kind: Kind, film: Option<&str>) -> String {
        let name = self.free(stem, self.writing.ending());
        let path = self.root.path().join(&name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
        self.files.push(Truth {
            name: name.clone(),
            kind,
            film: film.map(str::to_owned),
            steps: None,
            lies: None,
        });
        name
    }

    /// A name that is not there yet: as file managers do, a number is set behind it.
    fn free(&self, stem: &str, ending: &str) -> String {
        let taken = |name: &String| self.files.iter().any(|file| file.name.eq_ignore_ascii_case(name));
        let names = (0..).map(|number| match number {
            0 => format!("{stem}.{ending}"),
            number => format!("{stem} ({number}).{ending}"),
        });
        names.into_iter().find(|name| !taken(name)).unwrap()
    }

    fn name(&mut self, part: Part, of: Of<'_>) -> String {
        self.habit.name(part, of, &mut self.chance)
    }

    fn number(&mut self) -> u64 {
        self.numbers += 1;
        self.numbers
    }

    fn strip(&mut self, roll: &Roll<'_>, tablet: &Tablet, over: Option<u32>, how: How) -> String {
        let stops = how.stops_less;
        let densities = roll.curve.through(tablet, stops);
        let number = self.number();
        let exposed =
            Exposed { densities: &densities, base: roll.curve.base, step: tablet.step, spoilt: how.spoilt };
        let (codes, lies) = self.desk.strip(&exposed, number);
        let named = how.named_tablet;
        let of = Of { over, tablet: named, ..roll.of() };
        let stem = self.name(Part::Strip, of);
        let label = roll.label.clone();
        let name = self.put_scan(&stem, &codes, Kind::Strip, Some(&label), Some(tablet.densities.len()));
        if let Some(file) = self.files.last_mut().filter(|_| how.spoilt == Spoilt::No) {
            file.lies = Some(lies);
        }
        name
    }

    fn readings(&mut self, roll: &Roll<'_>, tablet: &Tablet, thousands: bool) -> String {
        let noise = |chance: &mut Chance, density: f64| density + 0.006 * chance.normal();
        let exact = roll.curve.through(tablet, 0.0);
        let densities: Vec<f64> = exact.iter().map(|density| noise(&mut self.chance, *density)).collect();
        let stem = self.name(Part::Readings, roll.of());
        let write = if thousands { Writing::thousands } else { Writing::densities };
        let text = write(&self.writing, &densities, Some(roll.film), &mut self.chance);
        let label = roll.label.clone();
        self.put_text(&stem, &text, Kind::Readings, Some(&label))
    }

    fn tablet(&mut self, tablet: &Tablet, letter: Option<char>) {
        let steps = Some(tablet.densities.len());
        let stem = self.name(Part::Tablet, Of { tablet: letter, ..Of::default() });
        let text = self.writing.densities(&tablet.densities, None, &mut self.chance);
        self.put_text(&stem, &text, Kind::Tablet, None);
        self.files.last_mut().unwrap().steps = steps;
        if self.chance.below(4) > 0 {
            let stem = self.name(Part::Tablet, Of { tablet: letter, ..Of::default() });
            let number = self.number();
            let codes = self.desk.tablet(&tablet.densities, tablet.step, number);
            self.put_scan(&stem, &codes, Kind::CalibrationFilm, None, steps);
        }
    }

    fn bracket(&mut self, roll: &Roll<'_>, twice: bool) -> String {
        let speed = speed(roll.film);
        let box_speed = INDICES.iter().position(|index| *index == speed).unwrap_or(10);
        let first = box_speed.saturating_sub(3);
        let mut rows: Vec<(u32, f64)> = (first..(box_speed + 4).min(INDICES.len()))
            .map(|at| {
                let stops = (at as f64 - box_speed as f64) / 3.0;
                (INDICES[at], roll.curve.density(-roll.curve.toe + 0.3 - 0.301 * stops))
            })
            .collect();
        if twice {
            rows[3].0 = rows[2].0;
        }
        let text = self.writing.bracket(&rows, roll.film);
        let stem = self.name(Part::Bracket, roll.of());
        let label = roll.label.clone();
        self.put_text(&stem, &text, Kind::Bracket, Some(&label))
    }

    fn frames(&mut self, roll: &Roll<'_>, subject: u64, another: bool) -> Vec<String> {
        let speed = speed(roll.film);
        let at = INDICES.iter().position(|index| *index == speed).unwrap_or(10).clamp(2, INDICES.len() - 3);
        let mut names = Vec::new();
        for (place, index) in INDICES[at - 2..at + 3].iter().enumerate() {
            let number = self.number();
            let shown = if another && place == 3 { subject + 1 } else { subject };
            let codes = self.desk.picture(shown, 0.06 * place as f64, number);
            let stem = self.name(Part::Frame, Of { index: Some(*index), ..roll.of() });
            let label = roll.label.clone();
            let name = self.put_scan(&stem, &codes, Kind::Frame, Some(&label), None);
            if shown != subject {
                names.push(name);
            }
        }
        names
    }
}

/// How a strip was made.
#[derive(Clone, Copy)]
struct How {
    stops_less: f64,
    spoilt: Spoilt,
    named_tablet: Option<char>,
}

const PLAINLY: How = How { stops_less: 0.0, spoilt: Spoilt::No, named_tablet: None };

impl Roll<'_> {
    fn of(&self) -> Of<'_> {
        Of { film: Some(self.film), roll: self.roll, minutes: self.minutes, ..Of::default() }
    }
}

fn speed(film: &str) -> u32 {
    film.rsplit(' ').next().and_then(|word| word.parse().ok()).unwrap_or(100)
}

fn write(path: &Path, codes: &Codes, dpi: u32) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut encoder = TiffEncoder::new(File::create(path).unwrap()).unwrap();
    let (width, height) = (codes.width as u32, codes.height as u32);
    let mut image = encoder.new_image::<Gray16>(width, height).unwrap();
    image.resolution(ResolutionUnit::Inch, Rational { n: dpi, d: 1 });
    image.write_data(&codes.codes).unwrap();
}

/// The rolls of a folder: most films have one, some two, some two that were developed for different times.
fn rolls(count: usize, chance: &mut Chance) -> Vec<Roll<'static>> {
    let begin = chance.below(FILMS.len());
    let several_rolls = chance.below(3) == 0;
    let times = chance.below(3) == 0;
    let mut rolls = Vec::new();
    for place in 0..count {
        let film = FILMS[(begin + place) % FILMS.len()];
        let plain = |curve, roll, minutes, label: String| Roll { film, curve, roll, minutes, label };
        let curve = Film::of(chance);
        let other = Film { gamma: curve.gamma * 1.15, base: curve.base + 0.02, ..curve };
        match chance.below(8) {
            0 if several_rolls => {
                rolls.push(plain(curve, Some(1), None, film.to_owned()));
                rolls.push(plain(other, Some(2), None, format!("{film}, roll 2")));
            }
            0 | 1 if times => {
                rolls.push(plain(curve, None, Some(9.0), format!("{film}, 9 min")));
                rolls.push(plain(other, None, Some(13.0), format!("{film}, 13 min")));
            }
            // Times that are noted all the same, and tell nothing apart.
            2 | 3 if times => rolls.push(plain(curve, None, Some(11.0), film.to_owned())),
            _ => rolls.push(plain(curve, None, None, film.to_owned())),
        }
    }
    rolls
}

/// Folder number `number`, with `films` films.
pub(super) fn made(number: u64, films: usize, fault: Option<Fault>) -> Made {
    let mut chance = Chance(0xf01d_0000 + number);
    let habit = Habit::of(&mut chance);
    let writing = Writing::of(habit.language, &mut chance);
    let mut desk = Desk::of(0xf01d ^ number);
    desk.mixed &= !matches!(fault, Some(Fault::Turned | Fault::Inverted));
    let steps = [21, 21, 31, 11][chance.below(4)];
    let a = Tablet::of(steps, &mut chance);
    let b = Tablet::of(if steps == 31 { 21 } else { 31 }, &mut chance);
    let rolls = rolls(films, &mut chance);
    let second = chance.below(5) < 2 || fault == Some(Fault::WrongTablet);
    let through_b = second && fault != Some(Fault::WrongTablet) && chance.below(3) == 0;
    let subject = 100 + number * 10;
    let story = format!("folder {number}: {steps} steps, second {second}, {habit:?} {writing:?}");
    let root = tempfile::tempdir().unwrap();
    let mut maker = Maker { chance, desk, habit, writing, root, files: Vec::new(), numbers: 0 };
    maker.tablet(&a, second.then_some('A'));
    if second {
        maker.tablet(&b, Some('B'));
    }
    let mut named: Vec<String> = Vec::new();
    // Which roll the fault is planted on, and the one beside it.
    let at = maker.chance.below(rolls.len() - 1);
    let apart = |other: usize| {
        let (p, q) = (rolls[at].curve.through(&a, 0.0), rolls[other].curve.through(&a, 0.0));
        p.iter().zip(q).map(|(p, q)| (p - q).abs()).fold(0.0, f64::max)
    };
    let other = (0..rolls.len()).max_by(|p, q| apart(*p).total_cmp(&apart(*q))).unwrap();
    for (place, roll) in rolls.iter().enumerate() {
        let here = fault.filter(|_| place == at);
        let mut how = PLAINLY;
        how.spoilt = match here {
            Some(Fault::Turned) => Spoilt::Turned,
            Some(Fault::Inverted) => Spoilt::Inverted,
            Some(Fault::Stretched) => Spoilt::Stretched,
            _ => Spoilt::No,
        };
        let exchanged = fault == Some(Fault::Exchanged) && (place == at || place == other);
        let readings = exchanged || here == Some(Fault::Thousands) || maker.chance.below(5) < 2;
        let scanned = exchanged || here.is_some() || !readings || maker.chance.below(4) > 0;
        let tablet = if here == Some(Fault::WrongTablet) || (through_b && place % 5 == 1) { &b } else { &a };
        how.named_tablet = (through_b && place % 5 == 1).then_some('B');
        if scanned {
            let curve = match () {
                () if exchanged && place == at => rolls[other].curve,
                () if exchanged => rolls[at].curve,
                () => roll.curve,
            };
            let shown = Roll { curve, label: roll.label.clone(), ..*roll };
            let twice = fault.is_none() && !readings && maker.chance.below(9) == 0;
            let name = maker.strip(&shown, tablet, twice.then_some(4), how);
            if twice {
                maker.strip(&shown, tablet, Some(16), How { stops_less: 2.0, ..how });
            }
            let planted = matches!(
                fault,
                Some(Fault::WrongTablet | Fault::Turned | Fault::Inverted | Fault::Stretched)
            );
            if exchanged || (here.is_some() && planted) {
                named.push(name);
            }
        }
        if readings && here != Some(Fault::WrongTablet) {
            let name = maker.readings(roll, tablet, here == Some(Fault::Thousands));
            named.extend((here == Some(Fault::Thousands)).then_some(name));
        }
        if maker.chance.below(6) == 0 || here == Some(Fault::IndexTwice) {
            let name = maker.bracket(roll, here == Some(Fault::IndexTwice));
            named.extend((here == Some(Fault::IndexTwice)).then_some(name));
        }
        if maker.chance.below(10) == 0 || (here == Some(Fault::AnotherSubject)) {
            named.extend(maker.frames(roll, subject, here == Some(Fault::AnotherSubject)));
        }
        extras(&mut maker, roll, subject);
    }
    all_films(&mut maker, &rolls);
    let Maker { files, root: folder, .. } = maker;
    let planted = fault.map(|fault| (fault, named));
    Made { folder, files, planted, story }
}

/// What only some films have: a print of the target, an even area, a record of their development.
fn extras(maker: &mut Maker, roll: &Roll<'_>, subject: u64) {
    let label = roll.label.clone();
    if maker.chance.below(8) == 0 {
        let number = maker.number();
        let codes = maker.desk.picture(subject, 0.0, number);
        let stem = maker.name(Part::Print, roll.of());
        maker.put_scan(&stem, &codes, Kind::Print, Some(&label), None);
    }
    if maker.chance.below(10) == 0 {
        let number = maker.number();
        let codes = maker.desk.even(0.9, number);
        let stem = maker.name(Part::Grain, roll.of());
        maker.put_scan(&stem, &codes, Kind::Grain, Some(&label), None);
    }
    if maker.chance.below(10) == 0 {
        let text = maker.writing.records(&[(roll.film, roll.minutes.unwrap_or(10.5))]);
        let celsius = maker.chance.may().then_some(20.0);
        let stem = maker.name(Part::Record, Of { celsius, ..roll.of() });
        maker.put_text(&stem, &text, Kind::Record, Some(&label));
    }
}

/// Tables about all films.
fn all_films(maker: &mut Maker, rolls: &[Roll<'_>]) {
    let heads = || rolls.iter().filter(|roll| roll.roll.is_none_or(|roll| roll == 1));
    if maker.chance.may() {
        let rows: Vec<(&str, f64)> = heads().map(|roll| (roll.film, roll.minutes.unwrap_or(10.5))).collect();
        let text = maker.writing.records(&rows);
        let stem = maker.name(Part::Record, Of::default());
        maker.put_text(&stem, &text, Kind::Record, None);
    }
    if maker.chance.may() {
        let rows: Vec<(&str, u32)> = heads().map(|roll| (roll.film, 4)).collect();
        let text = maker.writing.exposures(&rows);
        let stem = maker.name(Part::Exposures, Of::default());
        maker.put_text(&stem, &text, Kind::Exposures, None);
    }
}
