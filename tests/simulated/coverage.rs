//! A smaller run of `cargo dev study` (its modules live with that command): do 95 % intervals hold the truth?

use crate::study;

/// Series simulated. `cargo dev study` runs 1,000.
const SERIES: u64 = 200;
/// How surely a share must lie outside 93 to 97 % to fail: three binomial standard deviations, so that chance alone fails one
/// figure in some 700.
const SIGMAS: f64 = 3.0;

#[test]
fn intervals_of_promised_figures_hold_the_truth() {
    let tally = study::run(SERIES, 2).unwrap();
    println!("{}\n{}", tally.table(study::By::Nothing), tally.table(study::By::BaseFog));
    let promised = tally.promised();
    assert!(promised.len() >= 9, "only {} promised figures were measured", promised.len());
    for verdict in promised {
        assert!(verdict.cases as u64 >= SERIES / 3, "{} was measured {} times", verdict.label, verdict.cases);
        for edge in [0.93, 0.97_f64] {
            let margin = SIGMAS * (edge * (1.0 - edge) / verdict.cases as f64).sqrt();
            let beyond = if edge < 0.95 { edge - verdict.holds } else { verdict.holds - edge };
            assert!(
                beyond < margin,
                "{}: {:.3} of {} intervals hold",
                verdict.label,
                verdict.holds,
                verdict.cases
            );
        }
    }
}
