//! The prover: the demo, deletions that must break it, and small procedures against brute force.

use witnessmark::prove::{Proof, Report, prove};
use witnessmark::walk::Files;

use super::support::pure::{demo_files, files_of};

const MAKE_SAFE: &str = include_str!("../../procedures/make_safe.yaml");
const TEARDOWN: &str = include_str!("../../procedures/fluid_end_teardown.yaml");
const FLUSH: &str = include_str!("../../procedures/oil_flush.yaml");
const SERVICE: &str = include_str!("../../procedures/fluid_end_service.yaml");
const PUMP: &str = include_str!("../../procedures/equipment/marram_3_40.yaml");

fn failing(files: &Files, report: &Report) -> Vec<String> {
    report
        .promises
        .iter()
        .filter(|proven| proven.proof != Proof::Proved)
        .map(|proven| format!("{}: {:?}", proven.text(&files.flow), proven.proof))
        .collect()
}

#[test]
fn the_demo_is_proved_for_every_fit_out() {
    let files = demo_files();
    let report = prove(&files.flow);
    assert_eq!(failing(&files, &report), Vec::<String>::new());
    assert_eq!(report.unfinished, None);
    assert!(report.promises.len() >= 16);
    eprintln!(
        "{} fit-outs, {} paths, {} states, dead {:?}, constant {:?}",
        report.n_fit_outs, report.n_paths, report.n_states, report.dead, report.constant
    );
}
