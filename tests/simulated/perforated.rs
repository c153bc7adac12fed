//! Strips on perforated film, found by themselves: how many, and that nothing wrong is called sure.

use rayon::prelude::*;
use twinwedge_core::document::Channel;
use twinwedge_core::found::Found;
use twinwedge_core::tablet::find::{Order, Wanted, find_strip};

use super::scans::perforated::{OnFilm, eleven_on_film, on_film};

const STRIPS: u64 = 48;
const SEED: u64 = 20_262;

struct Outcome {
    strip: OnFilm,
    right: bool,
    sure: bool,
    told: String,
}

fn look_for(number: u64, strip: OnFilm) -> Outcome {
    let wanted = Wanted { steps: strip.told.then_some(strip.steps as u32), order: Order::Falling };
    let found = find_strip(strip.scan.plane(Channel::Green), &strip.table, &wanted, &|| false);
    let (right, sure, what) = match &found {
        Ok(found) => {
            let shape = &found.value.shape;
            let right = strip.right(&shape.quad.corners, shape.steps as usize);
            (right, Found::is_sure(found), format!("{} steps, doubts {:?}", shape.steps, found.doubts))
        }
        Err(problem) => (false, false, problem.cause.to_string()),
    };
    let told = format!("{number}: {} -> {what}", strip.story);
    Outcome { strip, right, sure, told }
}

/// Source of all truth here: the simulator in `scans`, which shares no code with the finder.
#[test]
fn strips_on_perforated_film_are_found_and_nothing_wrong_is_called_sure() {
    let all: Vec<Outcome> =
        (0..STRIPS).into_par_iter().map(|number| look_for(number, on_film(SEED, number))).collect();
    let share = |of: &dyn Fn(&Outcome) -> bool, test: &dyn Fn(&Outcome) -> bool| {
        let some: Vec<&Outcome> = all.iter().filter(|outcome| of(outcome)).collect();
        (some.iter().filter(|outcome| test(outcome)).count(), some.len())
    };
    let told = |outcome: &Outcome| outcome.strip.told;
    println!(
        "number of steps known: right {:?}, sure {:?}",
        share(&told, &|o| o.right),
        share(&told, &|o| o.sure)
    );
    let untold = |outcome: &Outcome| !outcome.strip.told;
    println!("not known: right {:?}, sure {:?}", share(&untold, &|o| o.right), share(&untold, &|o| o.sure));
    for outcome in all.iter().filter(|outcome| !outcome.right) {
        println!("{} {}", if outcome.sure { "WRONG AND SURE" } else { "not found" }, outcome.told);
    }
    let wrong: Vec<&str> = all.iter().filter(|o| o.sure && !o.right).map(|o| o.told.as_str()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Strips of 11 steps as long as a frame's third, whose borders are few beside perforations and edge print.
#[test]
fn eleven_long_steps_are_found_where_their_number_is_known() {
    let one = |number: u64| look_for(number, eleven_on_film(SEED, number));
    let all: Vec<Outcome> = (0..STRIPS).into_par_iter().map(one).collect();
    let count = |test: &dyn Fn(&Outcome) -> bool| all.iter().filter(|outcome| test(outcome)).count();
    let (right, sure) = (count(&|o| o.right), count(&|o| o.right && o.sure));
    println!("right {right}, right and sure {sure} of {STRIPS}");
    for outcome in all.iter().filter(|outcome| !(outcome.right && outcome.sure)) {
        let how = match (outcome.right, outcome.sure) {
            (true, _) => "in doubt",
            (false, true) => "WRONG AND SURE",
            (false, false) => "not found",
        };
        println!("{how} {}", outcome.told);
    }
    assert_eq!(count(&|o| o.sure && !o.right), 0);
}
