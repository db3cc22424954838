//! Properties of the walk, on the demo's job and on generated procedures.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use proptest::prelude::*;
use witnessmark::procedure::model::Verdict;
use witnessmark::walk::flow::{Ask, InstanceIdx, Node};
use witnessmark::walk::job::Held;
use witnessmark::walk::place::{Answers, Stand, Status, walk};
use witnessmark::walk::{Answer, Command, Files, JobState, replay};

use crate::support::procedures;
use crate::support::pure::{Bench, Choices, demo_files, files_of};

fn check_state(bench: &Bench) {
    let flow = &bench.files.flow;
    let state = &bench.state;
    // Replay of the journal equals live state.
    assert_eq!(replay(flow, &bench.entries).as_ref(), Some(state));
    // States sum to the total.
    let progress = state.progress();
    assert_eq!(
        progress.done + progress.current + progress.ahead + progress.not_applicable,
        progress.total
    );
    let counted = state.walk.status.iter().filter(|s| !matches!(s, Status::NotBegun)).count();
    assert_eq!(progress.total, counted);
    // The run projects on to the graph: each node follows from the one before by one of its edges.
    let nodes = &state.walk.nodes;
    assert_eq!(nodes.first(), Some(&0));
    let mut open = Vec::new();
    for pair in nodes.windows(2) {
        // Past an open step the walk goes on at the next member of a section of free order.
        let waits = match flow.node(pair[0]) {
            // What is verified again was answered, and what came behind it stays.
            Node::Ask { instance, .. } => !state.walk.path.contains(instance),
            Node::Test { .. } | Node::Performed { .. } | Node::End => false,
        };
        let edges = if waits {
            open.push(pair[0]);
            vec![flow.onward(pair[0], None, &open)]
        } else {
            let on = |truth| {
                let next = flow.next(pair[0], truth)?;
                flow.onward(pair[0], Some(next), &open)
            };
            vec![on(true), on(false)]
        };
        assert!(edges.contains(&Some(pair[1])), "{} does not lead to {}", pair[0], pair[1]);
    }
    let last = flow.node(*nodes.last().unwrap());
    match state.walk.stand {
        Stand::Asked(index, _) => {
            assert_eq!(state.walk.open.first(), Some(&index));
        }
        Stand::Stopped(index) => {
            assert!(matches!(last, Node::Ask { instance, .. } if *instance == index));
        }
        Stand::End => assert_eq!(last, &Node::End),
    }
}

fn random_walk(files: Files, seed: u64, n_steps: usize) -> (Bench, Choices) {
    let mut choices = Choices::new(seed);
    let mut bench = Bench::new(files);
    for _ in 0..n_steps {
        if bench.state.is_over() {
            break;
        }
        bench.step(&mut choices);
    }
    (bench, choices)
}

/// Corrects a random counted answer of the performer's to another random one.
fn correct(bench: &mut Bench, choices: &mut Choices) -> Option<InstanceIdx> {
    let flow = Arc::clone(&bench.files.flow);
    let open: Vec<InstanceIdx> = bench
        .state
        .walk
        .path
        .iter()
        .copied()
        .filter(|i| {
            let ask = &flow.instance(*i).ask;
            let second = ask.is_second();
            let tighten = matches!(ask, Ask::Tighten(_));
            let waits = matches!(ask, Ask::Wait { .. });
            let held = bench.state.held[*i].as_ref();
            !second && !tighten && !waits && held.is_some_and(|held| !held.is_signed(ask))
        })
        .collect();
    if open.is_empty() {
        return None;
    }
    let index = open[choices.below(open.len())];
    let instance = flow.instance(index);
    let before = bench.state.held[index].clone().unwrap().answer;
    for _ in 0..20 {
        let answer = match &instance.ask {
            Ask::Build { .. } => bench.random_stack(index, 0, choices),
            ask => bench.random_answer(index, ask, choices),
        };
        if answer != before {
            let command = Command::Correct {
                address: instance.address.clone(),
                answer,
                reason: "read again".to_owned(),
                signed: None,
            };
            bench.take_up();
            bench.submit(command).unwrap_or_else(|e| panic!("{e}"));
            return Some(index);
        }
    }
    None
}

/// The answers that count: what is parked needs a confirmation first.
struct Counting {
    answers: Vec<Option<Answer>>,
    substitutes: BTreeMap<InstanceIdx, Verdict>,
    to_verify: BTreeSet<InstanceIdx>,
}

impl Counting {
    fn of(state: &JobState) -> Self {
        let counts = |slot: &Option<Held>| {
            slot.as_ref().filter(|held| !held.stale).map(|held| held.answer.clone())
        };
        let mut answers: Vec<Option<Answer>> = state.held.iter().map(counts).collect();
        for (index, held) in &state.to_verify {
            answers[*index] = Some(held.answer.clone());
        }
        Self {
            answers,
            to_verify: state.to_verify.keys().copied().collect(),
            substitutes: state.conceded.iter().map(|(i, c)| (*i, c.verdict)).collect(),
        }
    }
}

impl Answers for Counting {
    fn answer(&self, instance: InstanceIdx) -> Option<&Answer> {
        self.answers.get(instance).and_then(Option::as_ref)
    }

    fn substitute(&self, instance: InstanceIdx) -> Option<Verdict> {
        self.substitutes.get(&instance).copied()
    }

    fn is_to_be_verified(&self, instance: InstanceIdx) -> bool {
        self.to_verify.contains(&instance)
    }
}

/// The state after a correction is the walk over the same answers with that one replaced: once as
/// the pure function says, once by a fresh job that is given those answers as it asks for them.
fn check_correction(bench: &mut Bench, choices: &mut Choices) {
    let before = bench.state.clone();
    let Some(index) = correct(bench, choices) else { return };
    let flow = Arc::clone(&bench.files.flow);
    let mut counting = Counting::of(&before);
    counting.answers[index] = bench.state.held[index].as_ref().map(|held| held.answer.clone());
    for lapsed in &bench.state.lapsed[before.lapsed.len()..] {
        let at = flow.find(&lapsed.address).unwrap();
        // What lapses is a signed answer, or a verdict in the place of that of the rules.
        if counting.substitutes.remove(&at).is_none() {
            counting.answers[at] = None;
            counting.to_verify.remove(&at);
        }
    }
    assert_eq!(bench.state.walk, walk(&flow, &counting));

    // A fresh job in which no time went by has nothing to verify again.
    if !counting.to_verify.is_empty() {
        check_state(bench);
        return;
    }
    let mut fresh = Bench::new(bench.files.clone());
    loop {
        // In free order the answers ahead of an open step count as well. What was built for another
        // fit-out is there and does not count.
        let open = fresh.state.walk.open.clone();
        let counts =
            |i: &InstanceIdx| counting.answers[*i].is_some() && bench.state.walk.path.contains(i);
        let Some(asked) = open.into_iter().find(counts) else { break };
        let address = flow.instance(asked).address.clone();
        let answer = counting.answers[asked].clone().unwrap();
        fresh.acknowledge(asked, &address);
        let ask = flow.instance(asked).ask.clone();
        fresh.give(&address, &ask, answer);
        if let Some(verdict) = counting.substitutes.get(&asked) {
            fresh.put_in_place(&address, *verdict);
        }
    }
    assert_eq!(fresh.state.walk, bench.state.walk);
    check_state(bench);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn random_walks_over_the_demo_replay_and_survive_corrections(seed in any::<u64>()) {
        thread_local! { static FILES: Files = demo_files(); }
        let files = FILES.with(Clone::clone);
        let n_steps = Choices::new(seed).below(160);
        let (mut bench, mut choices) = random_walk(files, seed, n_steps);
        check_state(&bench);
        for _ in 0..3 {
            check_correction(&mut bench, &mut choices);
            for _ in 0..4 {
                bench.step(&mut choices);
            }
        }
        check_state(&bench);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn pk1_random_walks_over_generated_procedures_end_and_survive_corrections(seed in any::<u64>()) {
        let text = procedures::random(seed);
        let files = files_of(&[("made", &text)], ("marram_3_40", procedures::EQUIPMENT), "made");
        let files = files.unwrap_or_else(|e| panic!("{e}\n{text}"));
        let n_steps = Choices::new(seed).below(400);
        let (mut bench, mut choices) = random_walk(files, seed, n_steps);
        check_state(&bench);
        check_correction(&mut bench, &mut choices);
        if bench.loosen_one(&mut choices) {
            // A stop in a section of free order ends the job, whatever else of it is open.
            let stopped = matches!(bench.state.walk.stand, Stand::Stopped(_));
            prop_assert!(stopped || !bench.state.is_over());
            check_state(&bench);
        }
        // Every walk ends: bounds are bounds.
        for _ in 0..5_000 {
            if bench.state.is_over() {
                break;
            }
            bench.step(&mut choices);
        }
        prop_assert!(bench.state.is_over());
        check_state(&bench);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    #[test]
    fn random_walks_with_pauses_and_states_that_do_not_last_replay(seed in any::<u64>()) {
        let text = procedures::random_volatile(seed);
        let files = files_of(&[("made", &text)], ("marram_3_40", procedures::EQUIPMENT), "made");
        let files = files.unwrap_or_else(|e| panic!("{e}\n{text}"));
        let mut choices = Choices::new(seed);
        let mut bench = Bench::new(files);
        // A state that lasts shorter than what stands between it and its use is asked for again
        // without end: such a procedure is its author's fault, and the walk need not be over.
        for _ in 0..400 {
            if bench.state.is_over() {
                break;
            }
            bench.step(&mut choices);
        }
        check_state(&bench);
    }
}
