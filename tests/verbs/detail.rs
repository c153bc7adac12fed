//! Surviving detail of prints.

use crate::{json, number, sample, truth, twinwedge};

fn print(film: &str) -> String {
    sample(&format!("scans/{film}-print.tif")).display().to_string()
}

/// The sample's films differ in grain alone on their prints, and its truth says what that does.
#[test]
fn detail_of_the_samples_prints_is_lost_to_what_the_truth_says() {
    let (tern, plover, dunlin) = (print("tern-160"), print("plover-640"), print("dunlin-40"));
    let of = |candidate: &str, third: &str| {
        json(&["detail", &tern, candidate, "--third", third, "--enlargement", "6.5", "--encoding", "srgb"])
    };
    let films = truth()["films"].clone();
    for (label, found) in [("Plover 640", of(&plover, &dunlin)), ("Dunlin 40", of(&dunlin, &plover))] {
        let truth = &films[label]["print_detail"];
        assert_eq!(found["statement"]["lost_to"], truth["lost_to"], "{label}");
        assert_eq!(
            (&found["frequencies"], &found["separated_by"]),
            (&"negative".into(), &"third film".into())
        );
        // What the scanner's pixels fold down is in both prints alike and draws the ratio towards 1; grain at the grey card
        // stands for the whole picture to within a quarter.
        let grain = number(&found["statement"]["grain"]["value"]);
        let card = number(&truth["grain_at_grey_card"]);
        let (low, high) = if card > 1.0 { (1.0, 1.25 * card) } else { (card / 1.25, 1.0) };
        assert!(low < grain && grain < high, "{label}: {grain}");
        assert!(found["differing"].as_array().is_some_and(Vec::is_empty), "{label}: {}", found["differing"]);
        let rows = found["rows"].as_array().expect("rows");
        // 150 dpi enlarged 6.5 times: 38.4 pixels to a millimetre of negative.
        let last = number(&rows[rows.len() - 1]["cycles_per_mm"]);
        assert!(last > 0.35 * 38.4 && last < 0.5 * 38.4, "{last}");
        for row in rows {
            let coherence = &row["coherence"];
            assert!(number(&coherence["low"]) <= number(&coherence["value"]));
            assert!(number(&coherence["value"]) <= number(&coherence["high"]));
        }
    }
}

#[test]
fn two_prints_alone_say_what_is_missing() {
    let (tern, plover) = (print("tern-160"), print("plover-640"));
    let found = json(&["detail", &tern, &plover, "--area", "200,200 900,700", "--encoding", "srgb"]);
    assert_eq!(found["frequencies"], "print");
    assert_eq!(found["statement"]["lost_to"], "not measured");
    let notes = found["notes"].to_string();
    assert!(notes.contains("third film") && notes.contains("enlargement"), "{notes}");
    let output = twinwedge(&["detail", &tern, &plover, "--area", "200,200 220,220"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("Give with --area a box of at least"));
}
