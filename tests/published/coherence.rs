//! Coherence of two records against published values.

use twinwedge_core::detail::{bias, of_ratios, zero_level};

use crate::check_values::check;

#[test]
fn the_bias_of_an_estimate() {
    let check = check("coherence.bias");
    let segments = check.inputs("K")[0];
    check.holds(&check.inputs("c").iter().map(|c| c + bias(*c, segments)).collect::<Vec<_>>());
}

#[test]
fn what_records_without_coherence_exceed_in_one_case_of_twenty() {
    let check = check("coherence.threshold");
    check.holds(&check.inputs("K").iter().map(|segments| zero_level(*segments)).collect::<Vec<_>>());
}

#[test]
fn coherence_from_ratios_of_signal_to_noise() {
    let check = check("coherence.snr");
    check.holds(&check.inputs("s").iter().map(|ratio| of_ratios(*ratio, *ratio)).collect::<Vec<_>>());
}
