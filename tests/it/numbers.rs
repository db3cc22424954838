//! What a reading is held against, from the file to the record: how it is compared, by which rule an
//! uncertain reading is decided, its grade, and shares of another reading.

use std::collections::BTreeMap;

use witnessmark::ids::{PersonId, Role, Sha256};
use witnessmark::procedure::model::Verdict;
use witnessmark::record::completion::{self, Record};
use witnessmark::record::release::Release;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::exceptions::{answer_text, list};
use witnessmark::walk::flow::Ask;
use witnessmark::walk::place::{Answers as _, Stand};
use witnessmark::walk::{Address, Answer, Command, Refusal};

use crate::support::procedures::{EQUIPMENT, made};
use crate::support::pure::{Bench, files_of};

/// A measuring step with a limit and what goes with it.
fn step(id: &str, limit: &str, more: &str) -> String {
    format!(
        "- id: {id}\n  measure: Length\n  with: calliper\n  unit: mm\n  limit: {limit}\n  \
         basis: Made\n  could_not_measure: {{verdict: refer}}\n{more}"
    )
}

fn bench(steps: &str) -> Result<Bench, String> {
    let text = made(&format!("steps:\n{steps}"));
    files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").map(Bench::new)
}

fn at(text: &str) -> Address {
    Address::parse(text).unwrap()
}

/// A reading by the instrument with the mark `by`.
fn read(bench: &Bench, text: &str, by: &str) -> Answer {
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == by).unwrap();
    let reading = Reading::parse(text, Unit::Millimetre).unwrap();
    Answer::Read { reading, instrument: snapshot(listed), several: None }
}

fn submit(bench: &mut Bench, address: &str, text: &str) -> Result<Option<Verdict>, Refusal> {
    let answer = read(bench, text, "C-03");
    bench.submit(Command::Answer { address: at(address), answer, signed: None })?;
    Ok(bench.entries.last().unwrap().event.judged().unwrap().verdict)
}

/// The verdict on one reading of a job of one step, and what is said of it.
fn one(limit: &str, more: &str, text: &str) -> (Verdict, String) {
    let mut bench = bench(&step("length", limit, more)).unwrap_or_else(|e| panic!("{e}"));
    let verdict = submit(&mut bench, "length", text).unwrap().unwrap();
    let index = bench.files.flow.find(&at("length")).unwrap();
    let ask = bench.state.walk.ask(&bench.files.flow, &bench.state, index);
    (verdict, answer_text(&ask, &read(&bench, text, "C-03")))
}

const BELOW: &str = "  below: {verdict: replace, parts: [spring]}\n";
const ABOVE: &str = "  above: {verdict: replace, parts: [spring]}\n";

/// Limits and readings of a question often asked about ASTM E29.
#[test]
fn o09_the_procedure_says_whether_readings_are_rounded_and_how() {
    let (pass, fail) = (Verdict::Accept, Verdict::Replace);
    let judged = |limit: &str, more: &str, text: &str| one(limit, more, text).0;
    for (compare, verdicts) in [
        ("", [fail, fail, pass, pass]),
        (", compare: absolute", [fail, fail, pass, pass]),
        (", compare: rounded_half_even", [pass, fail, pass, pass]),
        (", compare: rounded_half_up", [pass, fail, pass, pass]),
    ] {
        let limit = format!("{{at_most: 2.03 mm{compare}}}");
        let found = ["2.0349", "2.035", "2.03", "2.030"].map(|text| judged(&limit, ABOVE, text));
        assert_eq!(found, verdicts, "{compare}");
    }
    for (compare, verdict) in
        [("absolute", fail), ("rounded_half_even", fail), ("rounded_half_up", pass)]
    {
        let limit = format!("{{at_least: 2.03 mm, compare: {compare}}}");
        assert_eq!(judged(&limit, BELOW, "2.025"), verdict, "{compare}");
    }
    // Both figures and the way of rounding are said; nothing shows "2.03 > 2.03".
    let (_, said) = one("{at_most: 2.03 mm}", ABOVE, "2.0349");
    assert_eq!(said, "2.0349 mm is above 2.03 mm, with C-03");
    let (_, said) = one("{at_least: 2.03 mm, compare: rounded_half_even}", BELOW, "2.025");
    assert_eq!(said, "2.025 mm, half_even to 2.02 mm, is below 2.03 mm, with C-03");
}

/// The calliper has U = 0.03 mm and k = 2; the figures follow from it by hand.
#[test]
fn me3_each_rule_decides_by_its_own_words_and_neither_may_be_proven() {
    let (pass, fail) = (Verdict::Accept, Verdict::Replace);
    let open = Verdict::Refer;
    let exits = format!("{BELOW}{ABOVE}");
    let proven = format!("{exits}  not_proven: {{verdict: refer}}\n");
    let readings = ["44.57", "44.569", "44.60", "44.629", "44.63", "45.37", "45.38", "45.44"];
    for (rule, more, verdicts) in [
        ("simple", &exits, [fail, fail, pass, pass, pass, pass, pass, fail]),
        ("guarded", &exits, [fail, fail, fail, fail, pass, pass, fail, fail]),
        ("guarded, guard: 0.5 U", &exits, [fail, fail, fail, pass, pass, pass, pass, fail]),
        ("guarded, guard: 1 u", &exits, [fail, fail, fail, pass, pass, pass, pass, fail]),
        ("proven", &proven, [open, fail, open, open, pass, pass, open, fail]),
        (
            "probability, probability: 95 %",
            &exits,
            [fail, fail, fail, pass, pass, pass, fail, fail],
        ),
    ] {
        let limit = format!("{{between: [44.60 mm, 45.40 mm], rule: {rule}}}");
        let found = readings.map(|text| one(&limit, more, text).0);
        assert_eq!(found, verdicts, "{rule}");
    }
    let limit = "{between: [44.60 mm, 45.40 mm], rule: proven}";
    assert_eq!(
        one(limit, &proven, "44.60").1,
        "44.60 mm is within 44.6 mm to 45.4 mm, but by less than 0.03 mm: not proven, with C-03"
    );
}

#[test]
fn me3_what_is_not_proven_takes_its_own_exit() {
    let steps = step(
        "length",
        "{at_least: 44.60 mm, rule: proven}",
        "  below: {verdict: replace, parts: [spring]}\n  not_proven: {verdict: stop, say: Take a better \
         instrument., safe_state: As it is}\n",
    ) + "- {id: near, when: length.verdict == stop, do: Nothing.}\n";
    let mut bench = bench(&steps).unwrap();
    submit(&mut bench, "length", "44.61").unwrap();
    let Stand::Asked(index, _) = bench.state.walk.stand else { panic!("nothing is asked") };
    assert_eq!(bench.files.flow.instance(index).address.to_string(), "length/stop");
}

#[test]
fn a_grade_is_the_closest_limit_that_is_met_and_conditions_read_it() {
    let grades = "{grades: {new: {at_least: 45 mm}, serviceable: {at_least: 44.6 mm}}}";
    let steps = step("length", grades, BELOW)
        + "- {id: again, when: length.grade == serviceable, do: Measure at the next service.}\n";
    for (text, verdict, asked) in [
        ("45.00", Verdict::Accept, None),
        ("44.99", Verdict::Accept, Some("again")),
        ("44.60", Verdict::Accept, Some("again")),
        ("44.59", Verdict::Replace, None),
    ] {
        let mut bench = bench(&steps).unwrap();
        assert_eq!(submit(&mut bench, "length", text).unwrap(), Some(verdict), "{text}");
        let found = bench.asked().map(|(_, address)| address.to_string());
        assert_eq!(found.as_deref(), asked, "{text}");
    }
    assert_eq!(one(grades, BELOW, "45.2").1, "45.2 mm is at least 44.6 mm (new), with C-03");
    // A grade that does not exist is the author's mistake.
    let wrong = step("length", grades, BELOW)
        + "- {id: again, when: length.grade == servicable, do: Nothing.}\n";
    let fault = bench(&wrong).unwrap_err();
    assert!(fault.contains("servicable"), "{fault}");
}

/// A first reading without which the job ends.
fn fresh(limit: &str) -> String {
    step("fresh", limit, BELOW).replace(
        "could_not_measure: {verdict: refer}",
        "could_not_measure: {verdict: stop, say: Take another spring., safe_state: As it is}",
    )
}

fn shares() -> String {
    fresh("{at_least: 40 mm}")
        + &step(
            "old",
            "{at_least: 97 %}",
            "  relative_to: fresh\n  below: {verdict: replace, parts: [spring]}\n",
        )
}

#[test]
fn a_share_of_another_reading_follows_that_reading() {
    let mut bench = bench(&shares()).unwrap();
    submit(&mut bench, "fresh", "45.00").unwrap();
    // 0.97 · 45 = 43.65.
    assert_eq!(submit(&mut bench, "old", "43.65").unwrap(), Some(Verdict::Accept));
    let index = bench.files.flow.find(&at("old")).unwrap();
    let said = |bench: &Bench, text: &str| {
        let ask = bench.state.walk.ask(&bench.files.flow, &bench.state, index);
        answer_text(&ask, &read(bench, text, "C-03"))
    };
    assert_eq!(said(&bench, "43.64"), "43.64 mm is below 43.65 mm, with C-03");
    // Another reading of the new one makes another limit: what was read is judged again.
    let answer = read(&bench, "45.01", "C-03");
    let reason = "read it crosswise".to_owned();
    bench.submit(Command::Correct { address: at("fresh"), answer, reason, signed: None }).unwrap();
    assert_eq!(bench.state.walk.verdicts[index], Some(Verdict::Replace));
    assert_eq!(said(&bench, "43.65"), "43.65 mm is below 43.6597 mm, with C-03");
}

#[test]
fn a_share_needs_a_reading_of_the_same_kind_on_every_path() {
    let may_lack = "- id: fresh\n  measure: Length\n  with: calliper\n  unit: mm\n  \
        limit: {at_least: 40 mm}\n  basis: Made\n  could_not_measure: {verdict: accept}\n  \
        below: {verdict: replace, parts: [spring]}\n";
    let of =
        |what: &str| step("old", "{at_least: 97 %}", &format!("  relative_to: {what}\n{BELOW}"));
    for (steps, told) in [
        (may_lack.to_owned() + &of("fresh"), "fresh"),
        (of("old"), "old"),
        (of("2 N·m"), "the reading is a length, and this is a torque"),
    ] {
        let fault = bench(&steps).unwrap_err();
        assert!(fault.contains(told), "{fault}");
    }
}

/// A refused reading changes nothing: what cannot be decided is never taken for good.
#[test]
fn a_share_of_nothing_cannot_be_read() {
    let steps = fresh("{at_least: 0 mm}")
        + &step(
            "old",
            "{at_least: 97 %}",
            "  relative_to: fresh\n  below: {verdict: replace, parts: [spring]}\n",
        );
    let mut bench = bench(&steps).unwrap();
    submit(&mut bench, "fresh", "0").unwrap();
    let refused = submit(&mut bench, "old", "1").unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the limit is at least 97 % of fresh, and that is not a figure above 0; correct the \
         earlier reading first"
    );
    assert_eq!(bench.asked().unwrap().1, at("old"));
}

#[test]
fn percent_off_a_nominal_figure_are_exact_bounds() {
    let limit = "{nominal: 45 mm, plus: 4 %, minus: 2 %}";
    let exits = format!("{BELOW}{ABOVE}");
    let found: BTreeMap<&str, Verdict> = ["44.09", "44.1", "46.8", "46.81"]
        .into_iter()
        .map(|text| (text, one(limit, &exits, text).0))
        .collect();
    let (pass, fail) = (Verdict::Accept, Verdict::Replace);
    let expected = [("44.09", fail), ("44.1", pass), ("46.8", pass), ("46.81", fail)];
    assert_eq!(found, BTreeMap::from(expected));
}

/// What was read of a step that asks for several readings.
fn typed(bench: &Bench, address: &str, text: &str) -> Result<Answer, String> {
    let index = bench.files.flow.find(&at(address)).unwrap();
    let Ask::Measure(note) = &bench.files.flow.instance(index).ask else { panic!("no reading") };
    let (reading, several) = note.parse(text).map_err(|fault| fault.to_string())?;
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == "C-03").unwrap();
    Ok(Answer::Read { reading, instrument: snapshot(listed), several })
}

fn give(bench: &mut Bench, address: &str, text: &str) -> Result<Verdict, String> {
    let answer = typed(bench, address, text)?;
    let command = Command::Answer { address: at(address), answer, signed: None };
    bench.submit(command).map_err(|refusal| refusal.to_string())?;
    Ok(bench.entries.last().unwrap().event.judged().unwrap().verdict.unwrap())
}

#[test]
fn me5_the_declared_rule_makes_one_value_of_all_readings_and_none_is_dropped() {
    for (rule, text, verdict, said) in [
        (
            "median",
            "44.5; 44.7; 44.9",
            Verdict::Accept,
            "44.7 mm is at least 44.6 mm (median of 44.5 mm, 44.7 mm, 44.9 mm), with C-03",
        ),
        (
            "first",
            "44.5; 44.7; 44.9",
            Verdict::Replace,
            "44.5 mm is below 44.6 mm (first of 44.5 mm, 44.7 mm, 44.9 mm), with C-03",
        ),
        (
            "worst",
            "44.7; 44.5; 44.9",
            Verdict::Replace,
            "44.5 mm is below 44.6 mm (worst of 44.7 mm, 44.5 mm, 44.9 mm), with C-03",
        ),
        (
            "mean",
            "44.5; 44.6; 44.6",
            Verdict::Replace,
            "44 17/30 mm (about 44.5667 mm) is below 44.6 mm (mean of 44.5 mm, 44.6 mm, 44.6 mm), with C-03",
        ),
    ] {
        let more = format!("{BELOW}  readings: 3\n  counts: {rule}\n");
        let mut bench = bench(&step("length", "{at_least: 44.6 mm}", &more)).unwrap();
        assert_eq!(give(&mut bench, "length", text), Ok(verdict), "{rule}");
        let index = bench.files.flow.find(&at("length")).unwrap();
        let ask = &bench.files.flow.instance(index).ask;
        assert_eq!(answer_text(ask, bench.state.answer(index).unwrap()), said);
    }
}

#[test]
fn me5_a_fourth_reading_needs_a_reason_and_all_four_are_kept() {
    let more = format!("{BELOW}  readings: 3\n  counts: median\n");
    let mut bench = bench(&step("length", "{at_least: 44.6 mm}", &more)).unwrap();
    let mut refused = |text: &str| give(&mut bench, "length", text).unwrap_err();
    assert_eq!(
        refused("44.5; 44.7"),
        "3 readings are asked for, and 2 are there; type all of them with `;` between"
    );
    assert_eq!(
        refused("44.5; 44.7; 44.9; 45.0"),
        "3 readings are asked for; one more stays with the others, and needs `because` and a \
         reason behind it"
    );
    assert!(refused("44.5; 44.7x; 44.9").starts_with("reading 2: "));
    assert!(refused("44.5; ; 44.9").starts_with("reading 2: "));
    let text = "44.5; 44.5; 44.9; 45.1 because the spring leaned";
    assert_eq!(give(&mut bench, "length", text), Ok(Verdict::Accept));
    let index = bench.files.flow.find(&at("length")).unwrap();
    let Some(Answer::Read { reading, several: Some(several), .. }) = bench.state.answer(index)
    else {
        panic!("no readings")
    };
    // The middle of the middle two, 44.5 and 44.9.
    assert_eq!(reading.value.render(Unit::Millimetre), "44.7 mm");
    assert_eq!(several.typed(), text);
    // A value that is not what the rule makes of the readings is not taken, whoever writes it.
    let Ok(Answer::Read { instrument, several, .. }) = typed(&bench, "length", text) else {
        panic!("no readings")
    };
    let reading = Reading::parse("45.1", Unit::Millimetre).unwrap();
    let forged = Answer::Read { reading, instrument, several };
    let reason = "none".to_owned();
    let command = Command::Correct { address: at("length"), answer: forged, reason, signed: None };
    assert_eq!(
        bench.submit(command).unwrap_err().to_string(),
        "the value is not the median of these readings"
    );
}

#[test]
fn each_named_point_is_read_once() {
    let more = format!("{ABOVE}  readings: [rim, middle, hub]\n  counts: worst\n");
    let mut bench = bench(&step("gap", "{at_most: 0.10 mm}", &more)).unwrap();
    assert!(give(&mut bench, "gap", "0.02; 0.03").is_err());
    assert!(give(&mut bench, "gap", "0.02; 0.03; 0.1; 0.2 because it moved").is_err());
    assert_eq!(give(&mut bench, "gap", "0.02; 0.11; 0.05"), Ok(Verdict::Replace));
    let index = bench.files.flow.find(&at("gap")).unwrap();
    let ask = &bench.files.flow.instance(index).ask;
    assert_eq!(
        answer_text(ask, bench.state.answer(index).unwrap()),
        "0.11 mm is above 0.1 mm (worst of rim 0.02 mm, middle 0.11 mm, hub 0.05 mm), with C-03"
    );
}

#[test]
fn several_readings_are_named_whole_in_the_procedure() {
    for (more, told) in [
        ("  readings: 3\n", "it is not said which of several readings counts"),
        ("  counts: mean\n", "one reading counts as it is"),
        ("  readings: 1\n  counts: mean\n", "1 readings are not several"),
        ("  readings: [a, a]\n  counts: mean\n", "`a` names two points"),
    ] {
        let steps = step("length", "{at_least: 44.6 mm}", &format!("{BELOW}{more}"));
        let fault = bench(&steps).unwrap_err();
        assert!(fault.contains(told), "{fault}");
    }
}

/// The case of JCGM 106: a width of 16 and U = 4 with k = 2 give an index of 2; the calliper has
/// U = 0.03 mm and k = 2, so that 0.12 mm give 2 and 0.18 mm give 3.
#[test]
fn in2_an_instrument_that_is_not_good_enough_is_refused_when_it_is_picked() {
    let exits = format!("{BELOW}{ABOVE}");
    let refused = |limit: &str| {
        let mut bench = bench(&step("length", limit, &exits)).unwrap();
        give(&mut bench, "length", "45.00")
    };
    assert_eq!(refused("{between: [44.91 mm, 45.09 mm], capability: 3}"), Ok(Verdict::Accept));
    assert_eq!(
        refused("{between: [44.94 mm, 45.06 mm], capability: 3}").unwrap_err(),
        "`C-03` does not suit this limit: its capability index is 2 for a tolerance of 0.12 mm, and \
         at least 3 is asked for; take one with a smaller uncertainty"
    );
    // Nothing is asked for, and yet a step of 0.01 mm shows nothing between these bounds.
    assert_eq!(
        refused("{between: [44.996 mm, 45.004 mm]}").unwrap_err(),
        "`C-03` does not suit this limit: its steps of 0.01 mm are too coarse for a tolerance of \
         0.008 mm; take one with finer steps"
    );
    assert_eq!(
        refused("{between: [44 mm, 170 mm]}").unwrap_err(),
        "`C-03` does not suit this limit: 170 mm lies outside its range of 0 mm to 150 mm; take one \
         that reaches it"
    );
    let fault = bench(&step("length", "{at_least: 44 mm, capability: 3}", BELOW)).unwrap_err();
    assert!(fault.contains("a capability is told of two bounds"), "{fault}");
}

/// Figures of the normal distribution from any table: one standard uncertainty inside the bound is
/// 0.841345, two are 0.977250.
#[test]
fn me4_the_record_says_how_likely_each_reading_conforms_and_sums_it() {
    let limit = "{at_least: 44.60 mm, rule: guarded, guard: 1 u}";
    let steps =
        step("one", limit, BELOW) + &step("two", limit, BELOW) + &step("three", limit, BELOW);
    let mut bench = bench(&steps).unwrap();
    give(&mut bench, "one", "44.615").unwrap();
    give(&mut bench, "two", "44.63").unwrap();
    give(&mut bench, "three", "44.61").unwrap();
    let release = Release {
        job: bench.state.opened.job.clone(),
        head_n: bench.entries.last().unwrap().n,
        head: Sha256::ZERO,
        signer: PersonId::new("t.reiter").unwrap(),
        role: Role::Mechanic,
        at: bench.now(),
    };
    let none = BTreeMap::new();
    let text = completion::encode(&bench.files, &bench.state, &bench.entries, &none, &release);
    let record = Record::parse(text.as_bytes()).unwrap();
    let told: Vec<_> = record
        .steps
        .iter()
        .filter_map(|step| step.limit.as_ref())
        .map(|limit| (limit.decided.as_deref().unwrap(), limit.conforms.as_deref().unwrap()))
        .collect();
    assert_eq!(told, [("within", "0.841345"), ("within", "0.977250"), ("below", "0.747507")]);
    let rule = record.steps[0].limit.as_ref().unwrap().rule.as_deref().unwrap();
    assert_eq!(rule, "guarded, limits drawn in by 0.015 mm (U = 0.03 mm, k = 2)");
    // 0.158655 and 0.022750: what is not accepted is not wrongly accepted.
    let wrong = record.wrong_acceptances.unwrap();
    assert_eq!((wrong.expected.as_str(), wrong.n_readings), ("0.181405", 2));
}

const WARM: &str = "- id: room
  measure: Temperature of the spring
  with: thermometer
  unit: °C
  limit: {between: [0 °C, 40 °C]}
  basis: Made
  below: {verdict: refer}
  above: {verdict: refer}
  could_not_measure: {verdict: refer}
";

fn warm(bench: &Bench, text: &str) -> Answer {
    let listed = bench.files.shop.instruments.iter().find(|i| i.id == "T-01").unwrap();
    let reading = Reading::parse(text, Unit::Celsius).unwrap();
    Answer::Read { reading, instrument: snapshot(listed), several: None }
}

/// ISO 1 has lengths stated at 20 °C; how far from that a limit still holds is the author's to say.
#[test]
fn me7_a_limit_that_holds_at_some_temperatures_takes_a_reading_of_the_part_at_one_of_them() {
    let limit = "{at_least: 44.6 mm, holds_at: {from: 18 °C, to: 22 °C}}";
    let length = step("length", limit, &format!("{BELOW}  temperature: room\n"));
    let new = |steps: &str| {
        let text = made(&format!("steps:\n{steps}")).replace("format: \"1.0\"", "format: \"1.1\"");
        files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").map(Bench::new)
    };
    let mut bench = new(&format!("{WARM}{length}")).unwrap_or_else(|e| panic!("{e}"));
    let answer = |bench: &Bench, text: &str| Command::Answer {
        address: at("room"),
        answer: warm(bench, text),
        signed: None,
    };
    let too_warm = answer(&bench, "26.5");
    bench.submit(too_warm).unwrap();
    let refused = submit(&mut bench, "length", "44.70").unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the limit holds at 18 °C to 22 °C, and the part was read at 26.5 °C; let it come to that \
         temperature and correct the reading of it"
    );
    let correct = |bench: &Bench, text: &str| Command::Correct {
        address: at("room"),
        answer: warm(bench, text),
        reason: "an hour later".to_owned(),
        signed: None,
    };
    let cooled = correct(&bench, "22.0");
    bench.submit(cooled).unwrap();
    assert_eq!(submit(&mut bench, "length", "44.70"), Ok(Some(Verdict::Accept)));
    assert_eq!(
        list(&bench.files, &bench.state).iter().filter(|l| l.contains("holds at")).count(),
        0
    );
    // Corrected once more: the reading stands, and whoever signs is told what it was read at.
    let after_all = correct(&bench, "22.1");
    bench.submit(after_all).unwrap();
    let told = list(&bench.files, &bench.state).join("\n");
    assert!(
        told.contains(
            "length: the limit holds at 18 °C to 22 °C, and the part was read at 22.1 °C"
        )
    );
    // The author says where the temperature comes from, and that it is one.
    let without = step("length", limit, BELOW);
    let fault = new(&format!("{WARM}{without}")).unwrap_err();
    assert!(fault.contains("the step does not say where the part's was read"), "{fault}");
    let other = step("length", limit, &format!("{BELOW}  temperature: spring\n"));
    let spring = step("spring", "{at_least: 44.6 mm}", BELOW);
    let fault = new(&format!("{spring}{other}")).unwrap_err();
    assert!(fault.contains("this is a length, and no temperature"), "{fault}");
}

/// What is lapped away cannot be read as it was found.
#[test]
fn me7_a_reading_as_found_comes_before_what_disturbs_it_on_every_path() {
    let found = step("found", "{at_least: 44.6 mm}", &format!("{BELOW}  as: found\n"));
    let lap = "- {id: lap, do: Lap the face., disturbs: found}\n";
    let check = |steps: &[&str]| {
        let text = made(&format!("steps:\n{}", steps.concat()));
        let text = text.replace("format: \"1.0\"", "format: \"1.1\"");
        files_of(&[("made", &text)], ("marram_3_40", EQUIPMENT), "made").map(|_| ())
    };
    assert_eq!(check(&[&found, lap]), Ok(()));
    let too_late = check(&[lap, &found]).unwrap_err();
    assert!(too_late.contains("[WM4") || too_late.contains("[WM6"), "{too_late}");
    let asked = "- {id: dirty, enter: Enter whether it is dirty., kind: choice, choices: {yes: It is, no: Not}}\n";
    let maybe = found.replacen("- id: found\n", "- id: found\n  when: dirty == no\n", 1);
    let fault = check(&[asked, &maybe, lap]).unwrap_err();
    assert!(fault.contains("can be reached before what it disturbs was read as found"), "{fault}");
    let no_step = "- {id: lap, do: Lap the face., disturbs: found > 44 mm}\n";
    let fault = check(&[&found, no_step]).unwrap_err();
    assert!(fault.contains("no step that reads or looks at something"), "{fault}");
    let free = format!(
        "- id: both\n  section: Both\n  any_order: true\n  steps:\n{}",
        indented(&[&found, lap])
    );
    let fault = check(&[&free]).unwrap_err();
    assert!(fault.contains("any_order"), "{fault}");
}

fn indented(steps: &[&str]) -> String {
    let lines = steps.iter().flat_map(|step| step.lines());
    lines.flat_map(|line| ["    ", line, "\n"]).collect()
}
