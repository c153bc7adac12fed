//! The series file: round trip, versions, and what a crash leaves.

use std::fs;

use proptest::prelude::*;
use twinwedge_core::document::{
    Aperture, Bracket, BracketFrame, Calibration, CalibrationId, Channel, CompareAs, Conditions,
    DevelopmentChoices, Encoding, Exposure, FileDigest, Film, FilmId, FindingChoice, FlatSource,
    FollowedGradient, GrainArea, GridShape, Induction, KnownPatch, PaperTest, PrintChoice, PrintMatch,
    ReadingsSource, ScanEntry, ScanId, ScanKind, Series, ShadowDensity, Spot, Strip, StripLevel, StripShape,
    Tablet, TabletExposure, TabletId, ToneChoices, TypedReading,
};
use twinwedge_core::geometry::{Model, Point, Quad, Rect};
use twinwedge_core::patch::default_layout;
use twinwedge_core::spectra::density::DensityKind;
use twinwedge_workbench::store;

use crate::support::typed_series;

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![-10.0..10.0, Just(0.1 + 0.2), Just(-0.0), Just(1e-12), Just(1e15), Just(3.0)]
}

fn words() -> impl Strategy<Value = String> {
    // Everything that a text format may trip over.
    prop_oneof![Just(String::new()), "\\PC{0,12}", Just("a \"quote\" \\ and\nlines\t\u{1f39e}".to_owned())]
}

fn point() -> impl Strategy<Value = Point> {
    (number(), number()).prop_map(|(x, y)| Point::new(x, y))
}

fn quad() -> impl Strategy<Value = Quad> {
    [point(), point(), point(), point()].prop_map(|corners| Quad { corners })
}

fn strip() -> impl Strategy<Value = StripShape> {
    (quad(), 1..42_u32, 0.1..1.0).prop_map(|(quad, steps, inner)| {
        let aperture = match steps % 3 {
            0 => Aperture::Share,
            1 => Aperture::Circle(inner),
            _ => Aperture::Square(inner),
        };
        StripShape { quad, steps, inner, aperture }
    })
}

fn reading() -> impl Strategy<Value = TypedReading> {
    (number(), prop::option::of(number()), any::<bool>()).prop_map(|(density, u, set_aside)| TypedReading {
        density,
        u,
        set_aside,
        missing: set_aside && u.is_none(),
    })
}

fn source() -> impl Strategy<Value = ReadingsSource> {
    prop_oneof![
        prop::collection::vec(reading(), 0..5).prop_map(ReadingsSource::Typed),
        (words(), strip()).prop_map(|(scan, shape)| ReadingsSource::Strip { scan: ScanId(scan), shape }),
    ]
}

fn tablet_strip() -> impl Strategy<Value = Strip> {
    let level = prop_oneof![
        Just(StripLevel::default()),
        Just(StripLevel::FromOverlap),
        (number(), number()).prop_map(|(stops, u)| StripLevel::StopsLess { stops, u }),
    ];
    let density = prop::option::of(prop::sample::select(DensityKind::ALL.to_vec()));
    let steps = prop::collection::vec(1..42_u32, 0..3);
    (words(), prop::option::of(words()), level, source(), density, steps).prop_map(
        |(name, tablet, level, readings, density, steps_set_aside)| Strip {
            name,
            tablet: tablet.map(TabletId),
            level,
            readings,
            density,
            steps_kept: steps_set_aside.iter().map(|step| step + 1).collect(),
            steps_set_aside,
        },
    )
}

fn exposure() -> impl Strategy<Value = Exposure> {
    prop_oneof![
        (number(), number()).prop_map(|(log_h, u)| Exposure::Absolute { log_h, u }),
        number().prop_map(|stops_less| Exposure::Relative { stops_less }),
        Just(Exposure::NotSaid),
    ]
}

fn print() -> impl Strategy<Value = PrintChoice> {
    let pairs = prop::option::of([(point(), point()), (point(), point())]);
    let model = prop::option::of(prop::sample::select(Model::ALL.to_vec()));
    (words(), prop::option::of(number()), prop::option::of((quad(), 0.1..1.0)), pairs, model).prop_map(
        |(scan, exposure_s, grid, pairs, model)| PrintChoice {
            scan: ScanId(scan),
            exposure_s,
            grid: grid.map(|(quad, inner)| GridShape { inner, ..GridShape::new(quad) }),
            pairs,
            model,
        },
    )
}

fn film() -> impl Strategy<Value = Film> {
    let readings = (
        prop::option::of(reading()),
        prop::option::of((words(), exposure())),
        prop::collection::vec(tablet_strip(), 0..3),
    );
    let pictures = (prop::option::of(print()), prop::collection::vec((words(), point(), point()), 0..3));
    let bracket = prop::option::of((
        prop::collection::vec((words(), number(), number()), 0..4),
        prop::option::of(number()),
    ));
    (words(), words(), prop::option::of(number()), readings, pictures, bracket).prop_map(
        |(id, label, box_speed, (base_fog, exposed, strips), (print, areas), bracket)| Film {
            box_speed,
            strips,
            base_fog,
            roll_of: box_speed.map(|_| FilmId(label.clone())),
            tablet_exposure: exposed.map(|(tablet, exposure)| TabletExposure {
                tablet: TabletId(tablet),
                exposure,
                light_source: label.clone(),
                seconds: box_speed,
            }),
            print,
            uniform_areas: areas
                .into_iter()
                .map(|(scan, a, b)| GrainArea::new(ScanId(scan), Rect::between(a, b)))
                .collect(),
            bracket: bracket.map(|(frames, u)| Bracket {
                frames: frames
                    .into_iter()
                    .map(|(name, index, density)| BracketFrame::typed(name, index, density))
                    .collect(),
                u,
            }),
            notes: label.clone(),
            ..Film::named(FilmId(id), label)
        },
    )
}

fn scan() -> impl Strategy<Value = ScanEntry> {
    (
        words(),
        prop::option::of((any::<u64>(), words())),
        any::<bool>(),
        prop::option::of(number()),
        prop::option::of(words()),
    )
        .prop_map(|(path, digest, film, dpi, calibration)| ScanEntry {
            path,
            digest: digest.map(|(bytes, blake3)| FileDigest { bytes, blake3 }),
            kind: if film { ScanKind::Film } else { ScanKind::Print },
            dpi,
            encoding: match (film, dpi) {
                (true, Some(dpi)) => Some(Encoding::Density { first: 0.0, last: dpi }),
                (true, None) => Some(Encoding::Profile),
                (false, Some(_)) => Some(Encoding::Power(2.2)),
                (false, None) => None,
            },
            channel: if film { Channel::Blue } else { Channel::Mix { red: 3, green: 6, blue: 1 } },
            flat: match &calibration {
                None => FlatSource::Nothing,
                Some(name) if film => FlatSource::Blank(ScanId(name.clone())),
                Some(_) => FlatSource::Border(25.0),
            },
            known: dpi.map(|density| KnownPatch {
                area: Rect::between(Point::new(1.0, 2.0), Point::new(30.0, 40.0)),
                density,
                u: 0.01,
                applied: film,
            }),
            flare_corrected: film,
            calibration: calibration.map(CalibrationId),
        })
}

fn paper() -> impl Strategy<Value = PaperTest> {
    let numbers = (prop::option::of(number()), prop::option::of(source()), prop::option::of(reading()));
    (words(), words(), exposure(), numbers).prop_map(
        |(label, tablet, exposure, (seconds, readings, white))| PaperTest {
            label,
            exposure,
            seconds,
            readings,
            steps_set_aside: vec![3],
            steps_kept: vec![4],
            white,
            ..PaperTest::through(TabletId(tablet))
        },
    )
}

fn tones() -> impl Strategy<Value = ToneChoices> {
    let print_match = prop_oneof![
        Just(PrintMatch::BaseFog),
        number().prop_map(PrintMatch::Zone),
        Just(PrintMatch::AsPrinted),
        Just(PrintMatch::Same),
    ];
    let numbers = [number(), number(), number(), number(), number(), number(), number(), number()];
    let options = (prop::option::of(number()), prop::option::of(number()), prop::option::of(words()));
    (numbers, options, print_match).prop_map(|(numbers, (index, stops, third), print_match)| {
        let [q, k, flare_factor, subject_stops, shadow_zone, shadow_net_density, net, separation] = numbers;
        ToneChoices {
            exposure_index: index,
            q,
            k,
            flare_factor,
            subject_stops,
            shadow_zone,
            shadow_net_density,
            least_net_density: net,
            least_separation: separation,
            third: third.map(FilmId),
            print_stops: stops,
            print_match,
        }
    })
}

fn series() -> impl Strategy<Value = Series> {
    let lists = (
        prop::collection::vec(film(), 0..4),
        prop::collection::btree_map(words().prop_map(ScanId), scan(), 0..4),
        prop::collection::btree_map(
            words().prop_map(CalibrationId),
            (words(), words(), strip(), words()),
            0..3,
        ),
        prop::collection::vec((words(), point(), number()), 0..3),
    );
    let choices =
        (words(), prop::option::of(words()), prop::option::of(number()), any::<bool>(), any::<u64>());
    let printing = (prop::option::of(paper()), prop_oneof![Just(ToneChoices::default()), tones()]);
    (lists, choices, printing).prop_map(
        |(
            (films, scans, calibrations, spots),
            (title, reference, enlargement, layout, seed),
            (paper, tones),
        )| {
            let mut series = Series {
                paper,
                tones,
                films,
                scans,
                calibrations: calibrations
                    .into_iter()
                    .map(|(id, (label, scan, shape, tablet))| {
                        (
                            id,
                            Calibration {
                                repeat: (shape.steps > 20).then(|| ScanId(scan.clone())),
                                ..Calibration::new(label, ScanId(scan), shape, TabletId(tablet))
                            },
                        )
                    })
                    .collect(),
                spots: spots.into_iter().map(|(name, at, radius)| Spot { name, at, radius }).collect(),
                about: title.clone(),
                reference: reference.clone().map(FilmId),
                conditions: Conditions { enlargement, paper: title.clone(), ..Conditions::default() },
                layout: layout.then(default_layout),
                title,
                ..Series::default()
            };
            series.settings.seed = seed;
            if !layout {
                series.development = DevelopmentChoices {
                    compare_as: CompareAs::MatchedContrast,
                    follow: FollowedGradient::Gamma,
                    wanted: enlargement,
                    induction: enlargement.map_or(Induction::Fitted, Induction::Minutes),
                    temperature_coefficient: enlargement,
                };
            }
            if layout {
                series.settings.shadow_match = ShadowDensity::Gross;
                series.settings.usable_toe_gradient = 0.3;
                series.settings.usable_shoulder_gradient = 0.25;
            }
            series.tablets.insert(TabletId::from("t"), Tablet::nominal(11).unwrap());
            if let Some(film) = reference.map(FilmId) {
                let choices = [FindingChoice::Dropped, FindingChoice::Reworded(series.title.clone())];
                let choices =
                    choices.into_iter().enumerate().map(|(n, choice)| (n.to_string(), choice)).collect();
                series.report.findings.insert(film.clone(), choices);
                series.report.verdicts.insert(film.clone(), "good".to_owned());
                series.report.recommendations.insert(film.clone(), series.title.clone());
                let number = ("1".to_owned(), series.title.clone());
                series.report.reworded_on.insert(film.clone(), [number].into());
                series.report.order.insert(film, vec![series.title.clone(), "1".to_owned()]);
            }
            series
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn text_and_back_is_the_same_series(series in series().boxed()) {
        let text = store::write(&series);
        let back = store::read(&text, "test").unwrap();
        // By their debug text too: it tells -0.0 from 0.0.
        prop_assert_eq!(format!("{back:?}"), format!("{series:?}"));
        prop_assert_eq!(store::write(&back), text);
        // It opens where all its values are such as their fields may hold.
        prop_assert_eq!(store::parse(&store::write(&back), "test").is_ok(), series.check().is_ok());
    }
}

#[test]
fn a_small_change_is_a_small_difference_of_lines() {
    let series = typed_series(3);
    let mut changed = series.clone();
    let ReadingsSource::Typed(readings) = &mut changed.films[1].strips[0].readings else { panic!("typed") };
    readings[4].density += 0.01;
    let (old, new) = (store::write(&series), store::write(&changed));
    assert_eq!(old.lines().count(), new.lines().count());
    assert_eq!(old.lines().zip(new.lines()).filter(|(a, b)| a != b).count(), 1);
}

#[test]
fn a_newer_format_and_broken_text_are_refused_with_their_place() {
    let text = store::write(&typed_series(1));
    let newer = text.replacen("format: 2,", "format: 3,", 1);
    assert_ne!(newer, text);
    let problem = store::parse(&newer, "a.twinwedge").unwrap_err();
    assert!(problem.cause.contains("format 3"), "{problem}");
    let future = "Series(format: 7, something_new: Shape(1, 2, [3]), films: {})";
    assert!(store::parse(future, "a.twinwedge").unwrap_err().cause.contains("format 7"));
    let line = text.lines().position(|line| line.contains("readings:")).unwrap() + 1;
    let broken = text.replacen("readings:", "readings;", 1);
    let problem = store::parse(&broken, "a.twinwedge").unwrap_err();
    assert!(problem.to_string().contains(&format!("a.twinwedge, line {line}")), "{problem}");
    for text in ["", "  \n", "hello", "{\"films\": []}", "Series(format: 1, filmz: [])", "Series(format: 0)"]
    {
        assert!(store::parse(text, "a.twinwedge").is_err(), "{text}");
    }
}

#[test]
fn what_a_crash_left_beside_it_is_harmless_and_goes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("series.twinwedge");
    fs::write(folder.path().join(".series.twinwedge.AbC123.part"), "half").unwrap();
    store::save(&path, store::write(&typed_series(2)).as_bytes()).unwrap();
    assert_eq!(twinwedge_workbench::session::Session::open(&path).unwrap().series().films.len(), 2);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "and the next save removes it");
}
