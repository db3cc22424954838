//! Small random procedures, as an author might write them.

use std::fmt::Write as _;

use super::pure::Choices;

/// The equipment that they are written for.
pub(crate) const EQUIPMENT: &str = r#"format: "1.0"
equipment: marram_3_40
title: Test machine
revision: 1
effective: 2026-01-01
revisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]
positions: {cylinder: [1, 2], side: [inlet, outlet]}
settings: {elastomer: [epdm, nbr]}
fit_outs: {A: {title: One, elastomer: epdm}, B: {title: Other, elastomer: nbr}}
parts: {spring: {title: Spring}, disc: {title: Disc, quantity: 2}, ring: {title: Ring, lot: true}}
stacks:
  valve:
    title: Valve
    layers:
      - {layer: ring, part: ring}
      - {layer: disc, part: disc, face: the ribbed face, toward: with_flow}
      - {layer: noise, part: disc, when: elastomer == epdm}
      - {layer: spring, part: spring}
fasteners:
  nuts: {title: Nuts, count: 4, order: star, condition: dry}
torques:
  nuts: {full: {nominal: "30 N·m", plus: "1 N·m", minus: "1 N·m", basis: invented}}
limits:
  spring: {length: {at_least: "38.00 mm", basis: invented}}
  plate: {gap: {at_most: "0.10 mm", basis: invented}}
constants: {flush: {at_most: {value: 3}}}
"#;

struct Writer<'a> {
    choices: &'a mut Choices,
    out: String,
    n_ids: usize,
    budget: usize,
    per_cylinder: bool,
    /// For proofs: where a state is set, cleared or needed, and what promises can name.
    proof: Option<Promised>,
}

/// What promises can name.
#[derive(Default)]
struct Promised {
    /// The steps at the top.
    steps: Vec<String>,
    /// Those that are readings.
    readings: Vec<String>,
    /// Whether readings are compared with each other.
    relations: bool,
    /// Whether states that may lapse are set by steps that need others.
    lapses: bool,
}

/// A small procedure with promises, from a seed.
pub(crate) fn with_promises(seed: u64, relations: bool) -> String {
    promising(seed, Promised { relations, ..Promised::default() })
}

/// The same, with a state that outlasts no break, one that lasts for a time, and steps that set the
/// one and need the other.
pub(crate) fn with_lapses(seed: u64) -> String {
    promising(seed, Promised { lapses: true, ..Promised::default() })
        .replace(TOKENS, VOLATILE)
        .replace("steps:\n", "steps:\n- {id: lock, do: Lock it., sets: [locked]}\n")
}

fn promising(seed: u64, promised: Promised) -> String {
    let relations = promised.relations;
    let mut choices = Choices::new(seed.rotate_left(29));
    let n = 2 + choices.below(3);
    let mut writer = Writer {
        choices: &mut choices,
        out: made(BEGIN),
        n_ids: 0,
        budget: 0,
        per_cylinder: false,
        proof: Some(promised),
    };
    let mut known = vec!["elastomer == epdm".to_owned()];
    for _ in 0..n {
        writer.budget = writer.choices.below(2);
        writer.step(0, &mut known);
    }
    let Promised { steps, readings, .. } = writer.proof.take().unwrap();
    let mut when = known;
    when.extend(steps.iter().flat_map(|id| {
        ["accept", "replace", "refer"].map(|verdict| format!("{id}.verdict == {verdict}"))
    }));
    if relations && readings.len() > 1 {
        when.push(format!("{} > {}", readings[0], readings[1]));
    }
    let pick = |choices: &mut Choices, all: &[String]| all[choices.below(all.len())].clone();
    let mut out = writer.out;
    out.push_str("never:\n");
    for _ in 0..2 {
        let (step, when) = (pick(&mut choices, &steps), pick(&mut choices, &when));
        writeln!(out, "- {{reach: {step}, when: '{when}', because: Made}}").unwrap();
    }
    out.push_str("always:\n");
    for _ in 0..2 {
        let first = pick(&mut choices, &steps);
        let end = "end".to_owned();
        let before = if choices.one_in(2) { end } else { pick(&mut choices, &steps) };
        if first != before {
            writeln!(out, "- {{first: {first}, before: {before}, because: Made}}").unwrap();
        }
    }
    out.replace("always:\nsteps", "steps").trim_end_matches("always:\n").to_owned()
}

/// A small procedure `made` that performs `part` here and there, and `part` with a promise about
/// its own end; from a seed.
pub(crate) fn with_a_part(seed: u64) -> (String, String) {
    let mut choices = Choices::new(seed.rotate_left(41));
    let n_steps = 1 + choices.below(2);
    let mut writer = Writer {
        choices: &mut choices,
        out: made("steps:\n").replace("procedure: made", "procedure: part"),
        n_ids: 0,
        budget: 0,
        per_cylinder: true,
        proof: Some(Promised::default()),
    };
    let mut known = vec!["elastomer == epdm".to_owned()];
    for _ in 0..n_steps {
        writer.step(0, &mut known);
    }
    let steps = writer.proof.take().unwrap().steps;
    let mut part = writer.out.replace("steps:\n", "tokens: {locked: {title: Locked}}\nsteps:\n");
    let first = &steps[choices.below(steps.len())];
    writeln!(part, "always:\n- {{first: {first}, before: end, because: Made}}").unwrap();
    let mut out = made(BEGIN);
    out.push_str("- {id: way, enter: Way, kind: choice, choices: {on: On, off: Off}}\n");
    match choices.below(4) {
        0 => out.push_str("- {id: a, perform: part}\n"),
        1 => out.push_str("- {id: a, perform: part, when: way == on}\n"),
        2 => out.push_str(
            "- id: s\n  section: S\n  each: cylinder\n  steps: [{id: a, perform: part, when: way == on}]\n",
        ),
        _ => out.push_str(
            "- id: s\n  section: S\n  repeat: {until: way_now == on, at_most: 2, otherwise: {refer: mechanic, say:              Decide}}\n  steps: [{id: a, perform: part}, {id: way_now, enter: Way, kind: choice, choices: {on: On,              off: Off}}]\n",
        ),
    }
    if choices.one_in(2) {
        out.push_str("- {id: b, perform: part}\n");
    }
    out.push_str("- {id: last, do: Wipe it., clears: [locked]}\n");
    (out, part)
}

/// A procedure `made` for the test machine, from its first key of its own on.
pub(crate) fn made(rest: &str) -> String {
    format!(
        "format: \"1.0\"\nprocedure: made\ntitle: Made\nequipment: marram_3_40\nrevision: 1\n\
         effective: 2026-01-01\n\
         revisions: [{{revision: 1, date: 2026-01-01, by: m.dube, why: First}}]\n\
         performed_by: apprentice\nsigned_by: mechanic\nsignal_words: ansi-z535\n{rest}"
    )
}

/// The states of generated procedures, and the step that each begins with.
const BEGIN: &str = "tokens: {locked: {title: Locked}, warm: {title: Warm}}\nsteps:\n\
     - {id: plate, enter: Letter, kind: fit_out}\n";

/// A procedure that reads and compiles, from a seed.
pub(crate) fn random(seed: u64) -> String {
    let mut choices = Choices::new(seed.rotate_left(17));
    let mut writer = Writer {
        choices: &mut choices,
        out: made(BEGIN),
        n_ids: 0,
        budget: 14,
        per_cylinder: false,
        proof: None,
    };
    writer.steps(0, &mut vec!["elastomer == epdm".to_owned()]);
    writer.out
}

/// The same, with a state that does not outlast a pause and one that lasts for a time only.
pub(crate) fn random_volatile(seed: u64) -> String {
    random(seed).replace(TOKENS, VOLATILE)
}

/// The states of generated procedures, lasting and not.
const TOKENS: &str = "tokens: {locked: {title: Locked}, warm: {title: Warm}}";
const VOLATILE: &str =
    "tokens: {locked: {title: Locked, volatile: true}, warm: {title: Warm, lasts: 40 min}}";

impl Writer<'_> {
    fn id(&mut self) -> String {
        self.n_ids += 1;
        format!("s{}", self.n_ids)
    }

    fn line(&mut self, depth: usize, text: &str) {
        writeln!(self.out, "{}{text}", "  ".repeat(depth)).unwrap();
    }

    /// Steps at this depth; `known` are conditions that may be read here.
    fn steps(&mut self, depth: usize, known: &mut Vec<String>) {
        self.block(depth, known, false);
    }

    /// Steps at this depth, in `free` order or as written.
    fn block(&mut self, depth: usize, known: &mut Vec<String>, free: bool) {
        let visible = known.len();
        let n = 1 + self.choices.below(4);
        for i in 0..n {
            if free {
                known.truncate(visible);
            }
            if self.budget == 0 && i > 0 {
                break;
            }
            self.budget = self.budget.saturating_sub(1);
            self.step(depth, known);
        }
        known.truncate(visible);
    }

    #[expect(clippy::too_many_lines, reason = "one arm an action, each a few lines of YAML")]
    fn step(&mut self, depth: usize, known: &mut Vec<String>) {
        let id = self.id();
        self.line(depth, &format!("- id: {id}"));
        let guarded = self.choices.one_in(3);
        if guarded {
            let when = known[self.choices.below(known.len())].clone();
            self.line(depth, &format!("  when: {when}"));
        }
        if depth == 0
            && let Some(proof) = &mut self.proof
        {
            proof.steps.push(id.clone());
        }
        if self.proof.as_ref().is_some_and(|proof| proof.lapses) {
            let does: [&[&str]; 8] = [
                &["sets: [warm]", "needs: [locked]"],
                &["sets: [warm]", "needs: [locked]"],
                &["sets: [warm]", "needs: [locked]"],
                &["clears: [locked]"],
                &["clears: [locked]"],
                &["sets: [locked]"],
                &["needs: [warm]"],
                &[],
            ];
            for line in does[self.choices.below(8)] {
                self.line(depth, &format!("  {line}"));
            }
        } else if self.proof.is_some() && self.choices.one_in(4) {
            let does = ["sets", "sets", "clears", "needs"][self.choices.below(4)];
            self.line(depth, &format!("  {does}: [locked]"));
        }
        let answered = |condition: &str| {
            if guarded { format!("answered({id}) and {condition}") } else { condition.to_owned() }
        };
        if self.choices.one_in(8) {
            self.line(depth, "  witness: mechanic");
        }
        // Free order and states do not go together; the top level is in order.
        if depth == 0 && self.proof.is_none() && self.choices.one_in(4) {
            let token = if self.choices.one_in(2) { "locked" } else { "warm" };
            self.line(depth, &format!("  sets: [{token}]"));
        }
        match self.choices.below(if depth < 6 && self.budget > 0 { 13 } else { 8 }) {
            12 => {
                self.line(depth, "  wait: The oil settles.");
                self.line(depth, "  for: 10 min");
                if self.choices.one_in(2) {
                    self.line(depth, "  at_most: 10.5 min");
                    self.line(depth, "  too_late:");
                    self.line(depth, "    verdict: refer");
                    self.line(depth, "    steps:");
                    self.steps(depth + 3, known);
                }
            }
            0 => self.line(depth, "  do: Wipe the part."),
            5 => {
                self.line(depth, "  attach: A photo of the part");
                self.line(depth, "  may_lack: true");
            }
            1 => {
                self.line(depth, "  look: Look at the part.");
                self.line(depth, "  several: true");
                self.line(depth, "  findings:");
                self.line(depth, "    no_fault: {see: Nothing, verdict: accept}");
                self.line(depth, "    worn: {see: Worn, verdict: replace, parts: [spring]}");
                self.line(depth, "    odd: {see: Odd, verdict: refer, parts: [disc]}");
                known.push(answered(&format!("worn in {id}")));
            }
            2 => {
                self.spring(depth);
                if self.choices.one_in(3) {
                    self.line(depth, "  second: {agree_within: \"0.01 mm\"}");
                }
                if (depth > 0 || self.proof.is_some()) && self.choices.one_in(3) {
                    self.line(depth, "  concession: mechanic");
                }
                known.push(answered(&format!("{id}.verdict == replace")));
                if let Some(proof) = &mut self.proof {
                    known.push(format!("answered({id}) and {id} >= 38.50 mm"));
                    if proof.relations
                        && let Some(other) = proof.readings.last()
                    {
                        let both = format!("answered({id}) and answered({other})");
                        known.push(format!("{both} and {id} > {other}"));
                    }
                    if depth == 0 {
                        proof.readings.push(id);
                    }
                }
            }
            3 => {
                self.line(depth, "  enter: How it looks");
                self.line(depth, "  kind: choice");
                self.line(depth, "  choices: {clear: Clear, milky: Milky}");
                known.push(answered(&format!("{id} == milky")));
            }
            4 => {
                self.line(depth, "  check: Confirm");
                self.line(depth, "  items: [The first, The second]");
            }
            6 => {
                self.build(depth);
                known.push(answered(&format!("{id}.verdict == refer")));
            }
            7 => {
                self.tighten(depth);
            }
            8 => {
                self.line(depth, "  section: One position");
                let outer = self.per_cylinder;
                let each = !outer && self.choices.one_in(2);
                if each {
                    self.per_cylinder = true;
                    self.line(depth, "  each: cylinder");
                }
                let any_order = self.choices.one_in(2);
                if any_order {
                    self.line(depth, "  any_order: true");
                }
                self.line(depth, "  steps:");
                self.block(depth + 1, known, any_order && !each);
                self.per_cylinder = outer;
            }
            9 => self.repeat(depth, known),
            10 => {
                self.line(depth, "  measure: Measure the gap.");
                self.line(depth, "  with: feeler_gauge");
                self.line(depth, "  unit: mm");
                self.line(depth, "  limit: plate.gap");
                self.line(depth, "  above:");
                self.line(depth, "    verdict: rework");
                self.line(depth, "    at_most: 2");
                self.line(depth, "    otherwise: {refer: mechanic, say: Decide}");
                self.line(depth, "    steps:");
                self.steps(depth + 2, known);
                self.line(
                    depth,
                    "  could_not_measure: {verdict: stop, say: Stop, safe_state: Safe}",
                );
            }
            _ => {
                self.line(depth, "  look: Look at the seat.");
                self.line(depth, "  findings:");
                self.line(depth, "    fine: {see: Fine, verdict: accept}");
                self.line(depth, "    torn:");
                self.line(depth, "      see: Torn");
                self.line(depth, "      verdict: replace");
                self.line(depth, "      parts: [disc]");
                self.line(depth, "      steps:");
                self.steps(depth + 3, known);
                self.line(
                    depth,
                    "    broken: {see: Broken, verdict: stop, say: End, safe_state: Safe}",
                );
                known.push(answered(&format!("{id} == torn")));
            }
        }
    }

    fn spring(&mut self, depth: usize) {
        self.line(depth, "  measure: Measure the spring.");
        self.line(depth, "  with: calliper");
        self.line(depth, "  unit: mm");
        self.line(depth, "  limit: spring.length");
        self.line(depth, "  below: {verdict: replace, parts: [spring]}");
        self.line(depth, "  could_not_measure: {verdict: refer}");
    }

    fn build(&mut self, depth: usize) {
        self.line(depth, "  build: Lay the valve.");
        self.line(depth, "  stack: valve");
        let laid = if self.choices.one_in(2) { "with_flow" } else { "against_flow" };
        self.line(depth, &format!("  laid: {laid}"));
    }

    fn tighten(&mut self, depth: usize) {
        self.line(depth, "  tighten: Tighten the nuts.");
        self.line(depth, "  fasteners: nuts");
        self.line(depth, "  torque: nuts.full");
        self.line(depth, "  with: torque_wrench");
        self.line(depth, "  passes: [50 %, 100 %]");
        let redo = ["this_one", "all", "{from_pass: 2}"][self.choices.below(3)];
        self.line(depth, &format!("  on_redo: {redo}"));
        if self.choices.one_in(2) {
            self.line(depth, "  round_more: true");
        }
    }

    fn repeat(&mut self, depth: usize, known: &mut Vec<String>) {
        let sample = self.id();
        self.line(depth, "  section: Until it is clear");
        self.line(depth, "  repeat:");
        self.line(depth, &format!("    until: {sample} == clear"));
        let bound = if self.choices.one_in(2) { "flush.at_most" } else { "2" };
        self.line(depth, &format!("    at_most: {bound}"));
        let otherwise = if self.choices.one_in(2) {
            "{refer: mechanic, say: Decide}"
        } else {
            "{stop: Not clear, safe_state: Safe}"
        };
        self.line(depth, &format!("    otherwise: {otherwise}"));
        self.line(depth, "  steps:");
        self.steps(depth + 1, known);
        self.line(depth + 1, &format!("- id: {sample}"));
        self.line(depth + 1, "  enter: How the sample looks");
        self.line(depth + 1, "  kind: choice");
        self.line(depth + 1, "  choices: {clear: Clear, milky: Milky}");
    }
}
