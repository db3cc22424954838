//! How the prover grows: generated procedures up to 2,000 steps, 200 findings, nested repeats and
//! five positions. `cargo bench --bench prove`
#![expect(clippy::disallowed_methods, reason = "a benchmark looks at the clock")]
#![expect(clippy::print_stdout, clippy::panic, reason = "a benchmark prints its figures or ends")]
#![expect(clippy::unwrap_used, reason = "a benchmark ends where something is not so")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Instant;

use witnessmark::ids::ProcedureId;
use witnessmark::prove::{Proof, prove};
use witnessmark::source::{FileId, Source, Span};
use witnessmark::walk::{Library, compile};
use witnessmark::{equipment, procedure};

const EQUIPMENT: &str = r#"format: "1.0"
equipment: made
title: Made
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]
positions: {cylinder: [1, 2, 3, 4, 5]}
settings: {elastomer: [epdm, nbr, fkm]}
fit_outs: {A: {title: A, elastomer: epdm}, B: {title: B, elastomer: nbr}, C: {title: C, elastomer: fkm}}
parts: {spring: {title: Spring}}
limits: {spring: {length: {at_least: "38.00 mm", basis: invented}}}
"#;

fn main() {
    println!("steps  instances  findings  nodes  paths (digits)  states  ms");
    for blocks in [1, 3, 10, 30, 63] {
        measure(blocks);
    }
}

fn measure(n_blocks: usize) {
    let text = made(n_blocks);
    let (equipment, found) = equipment::read(FileId(0), &Source::new("equipment.yaml", EQUIPMENT));
    let equipment = Arc::new(equipment.unwrap_or_else(|| panic!("{found:?}")));
    let (procedure, found) = procedure::read(FileId(1), &Source::new("made.yaml", text.as_str()));
    let procedure = Arc::new(procedure.unwrap_or_else(|| panic!("{found:?}")));
    let id = ProcedureId::new("made").unwrap();
    let procedures = BTreeMap::from([(id.clone(), procedure)]);
    let library = Library { procedures, equipment };
    let (flow, found) = compile(&library, &id, Span::new(FileId(1), 0, 0));
    let flow = flow.unwrap_or_else(|| panic!("{found:?}"));
    let start = Instant::now();
    let report = prove(&flow);
    let ms = start.elapsed().as_secs_f64() * 1e3;
    assert!(report.promises.iter().all(|p| p.proof == Proof::Proved), "{:?}", report.promises);
    println!(
        "{:5}  {:9}  {:8}  {:5}  {:14}  {:6}  {ms:.1}",
        text.matches("- {id").count() + text.matches("- id").count(),
        flow.instances.len(),
        text.matches("see:").count(),
        flow.nodes.len(),
        report.n_paths.to_string().len(),
        report.n_states,
    );
}

/// Blocks of some thirty steps: isolation, findings at five positions, a nested repeat, a guard.
fn made(n_blocks: usize) -> String {
    let mut out = String::from(
        "format: \"1.0\"\nprocedure: made\ntitle: Made\nequipment: made\nrevision: 1\n\
         effective: 2026-01-01\n\
         revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]\n\
         performed_by: apprentice\nsigned_by: mechanic\nsignal_words: ansi-z535\n\
         tokens: {locked: {title: Locked}}\n",
    );
    let (mut never, mut always, mut steps) = (String::new(), String::new(), String::new());
    for b in 0..n_blocks {
        writeln!(never, "- {{reach: b{b}.solvent, when: elastomer == epdm, because: Made}}")
            .unwrap();
        writeln!(
            never,
            "- {{reach: b{b}.close, when: any(b{b}.each.look == torn), because: Made}}"
        )
        .unwrap();
        writeln!(always, "- {{first: lock, before: b{b}.close, because: Made}}").unwrap();
        writeln!(steps, "- id: b{b}\n  section: Block\n  steps:").unwrap();
        for d in 0..22 {
            writeln!(steps, "  - {{id: do{d}, do: Wipe the part., needs: [locked]}}").unwrap();
        }
        writeln!(
            steps,
            "  - {{id: solvent, when: elastomer != epdm, do: Fill in the solvent.}}
  - id: each
    section: One cylinder
    each: cylinder
    steps:
    - id: look
      look: Look at it.
      findings: {{fine: {{see: Fine, verdict: accept}}, torn: {{see: Torn, verdict: stop, say: Stop, safe_state: Safe}}, worn: {{see: Worn, verdict: replace, parts: [spring]}}}}
    - id: spring
      measure: Measure it
      with: calliper
      unit: mm
      limit: spring.length
      below: {{verdict: rework, steps: [{{id: file, do: File it.}}], at_most: 2, otherwise: {{refer: mechanic, say: Decide}}}}
      could_not_measure: {{verdict: refer}}
  - id: outer
    section: Until it is clear
    repeat: {{until: 'sample == clear', at_most: 3, otherwise: {{refer: mechanic, say: Decide}}}}
    steps:
    - id: inner
      section: Until it is dry
      repeat: {{until: 'drop == dry', at_most: 2, otherwise: {{refer: mechanic, say: Decide}}}}
      steps:
      - {{id: drop, enter: Drop, kind: choice, choices: {{dry: Dry, wet: Wet}}}}
    - {{id: sample, enter: Sample, kind: choice, choices: {{clear: Clear, milky: Milky}}}}
  - {{id: order, when: 'any(each.look == worn)', do: Order new ones.}}
  - {{id: close, do: Close it.}}"
        )
        .unwrap();
    }
    write!(
        out,
        "never:\n{never}always:\n{always}steps:\n- {{id: plate, enter: Letter, kind: fit_out}}\n\
         - {{id: lock, do: Hang the lock., sets: [locked]}}\n{steps}"
    )
    .unwrap();
    out
}
