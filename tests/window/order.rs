//! The Films page with all films in order.

use egui::Key;

use crate::typed::{self, enter, film, page, press, said, shows, wait_for};

/// The speed points of the typed films are truth by construction: film 0 has the least exposure at its speed point.
#[test]
fn films_stand_in_order_and_a_press_lays_one_on_the_bench() {
    let mut series = typed::series();
    series.films.truncate(1);
    for (number, speed_point) in [-2.35, -1.6, -2.2].into_iter().enumerate() {
        series.films.push(film(&format!("Knot {number}"), speed_point, 100.0));
    }
    let mut harness = page(series, Key::Num1);
    harness.run_steps(2);
    press(&mut harness, "Show as: order");
    wait_for(&mut harness, "the order", |harness| shows(harness, "Knot 0 is the fastest"));
    for (film, place) in [("Knot 0", 1), ("Knot 2", 2), ("Tern 160", 3), ("Knot 1", 4)] {
        assert!(shows(&harness, &format!("{film}, place {place},")), "{film}");
    }
    // Analytic: 0.3 in log H over the reference is a stop.
    assert!(said(&harness, "Knot 2, place").contains("+1.0"));
    let row = said(&harness, "Knot 2, place");
    press(&mut harness, &row);
    assert!(shows(&harness, "Candidate: Knot 2"), "it lies on the bench");
    enter(&mut harness, "Filter the films", "knot and speed < 1.2");
    wait_for(&mut harness, "two films", |harness| shows(harness, "2 of 4 films"));
    assert!(shows(&harness, "Knot 2, place 2,") && shows(&harness, "Knot 1, place 4,"), "places stay");
    assert!(!shows(&harness, "Knot 0, place") && !shows(&harness, "Tern 160, place"));
    press(&mut harness, "All films");
    press(&mut harness, "Order by: speed for its box");
    assert!(shows(&harness, "fastest for its box"));
    press(&mut harness, "Show as: map");
    // No film has granularity: what they have is shown.
    wait_for(&mut harness, "the map", |harness| shows(harness, "Speed, stops over "));
    press(&mut harness, "Show as: table");
    assert!(shows(&harness, "4 films"));
}
