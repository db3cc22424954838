//! A record with one of everything, and one of given steps, for tests.

use serde_json::{Value as Json, json};

use crate::canonical;
use crate::record::completion::{Record, Step};

/// A record with at least one of everything.
#[expect(clippy::too_many_lines, reason = "a whole record, field by field")]
pub(super) fn full() -> Json {
    let step = |answer: Json| {
        json!({
            "address": "tear/spring", "answer": answer, "at": "2026-11-25T10:00:00.000+01:00",
            "by": "i.varga", "confirmed": 9, "n": 7,
            "headline": {"label": "First", "says": "grit", "under": "cause"}, "observed": "2026-11-25T09:00:00.000+01:00",
            "phase": "found",
            "limit": {"at_least": "44.6 mm", "at_most": "45.4 mm", "basis": "manual",
                      "compare": "rounded_half_up to 1 place", "conforms": "0.000001",
                      "decided": "below", "grade": "worn", "name": "spring.length", "rounded": "43.9 mm",
                      "rule": "guarded", "words": "44.6 mm to 45.4 mm"},
            "safety": {"at": "t", "by": "i.varga", "n": 6, "text": "hash"},
            "said": ["renew it"], "text": "Measure", "verdict": "replace",
            "verdict_judged": "refer", "what": "43.9 mm", "within": ["Teardown"],
        })
    };
    let figure = json!({"text": "43.9", "unit": "mm", "value": "43.9 mm"});
    let instrument = json!({
        "calibration_due": "2027-01-01", "certificate": "K1", "certificate_sha256": "K2", "id": "C-03", "k": "2",
        "kind": "caliper", "resolution": "0.01 mm", "uncertainty": "0.02 mm",
    });
    let round = json!({
        "fasteners": [{"fastener": 5, "reading": figure, "so": true}], "pass": 2,
        "wrench": {"adapter": {"angle": figure, "extension": figure, "length": figure},
            "instrument": instrument, "setting": figure, "thread": "dry",
            "torque": "30 N·m", "worked_out": "exact"},
    });
    let fitted = json!([{"by": "i.varga", "layer": "spring", "lot": "L-7", "n": 31, "number": "78",
            "part": "valve_spring", "position": "cylinder=3", "quantity": 61, "step": "rebuild/inlet",
            "title": "Valve spring"}]);
    let loosened = json!([{"address": "close/nuts", "at": "t", "by": "i.varga", "fastener": 5, "n": 33,
            "reason": "washer missing", "superseded": [round.clone()]}]);
    let rechecks = json!([{"address": "close/nuts", "at": "t", "by": "i.varga",
            "direction": "tightening", "fastener": 4, "instrument": instrument,
            "judged": "34 is fine", "n": 34, "reading": figure}]);
    let dispositions = json!([{"address": "da", "at": "db", "by": "dc", "done": "dd",
            "done_n": 27, "lot": "de", "n": 28, "rules": "replace", "says": "df",
            "verdict": "refer", "what": "dg"}]);
    let steps = vec![
        step(json!({"attached": {"len_bytes": 78, "name": "ef", "sha256": "eg"}})),
        step(json!({"not_attached": {"reason": "no camera"}})),
        step(json!({"deviated": {"done": true, "reason": "by hand"}})),
        step(json!({"waited": {"begun": "wb", "doubtful": true, "elapsed_s": 61, "ended": "we"}})),
        step(json!("done")),
        step(json!("released")),
        step(json!("stopped")),
        step(json!({"items": [{"so": true, "text": "one"}, {"so": false, "text": "two"}]})),
        step(json!({"found": [{"id": "worn", "likely_cause": "grit", "see": "a ring"}]})),
        step(json!({"read": {"instrument": instrument, "reading": figure,
                "several": {"points": ["rim", "hub"], "reason": "it leaned", "rule": "worst",
                "taken": [figure.clone(), figure.clone()]}}})),
        step(json!({"could_not_measure": {"reason": "too dirty"}})),
        step(json!({"built": [{"layer": "seat", "lies": "face up", "lot": "K-8",
                "part": "valve_seat", "so": true, "title": "Seat"}]})),
        step(json!({"tightened": [round.clone()]})),
        step(json!({"entered": "typed"})),
        step(json!({"entered_figure": figure})),
        step(json!({"decided": {"reason": "good enough", "verdict": "accept"}})),
    ];
    let mut record = json!({
        "concessions": [{"address": "ca", "at": "cb", "by": "cc", "n": 21, "reason": "cd",
            "rules": "replace", "verdict": "accept"}],
        "evidence": [{"address": "ea", "at": "eb", "by": "ec", "n": 22,
            "file": {"len_bytes": 77, "name": "ed", "sha256": "ee"}}],
        "witnesses": [{"address": "wa", "at": "wb", "n": 23, "who": "wc"}],
        "corrections": [{"address": "a", "after": "b", "at": "c", "before": "d",
            "before_at": "e", "before_by": "f", "by": "g", "n": 12, "reason": "h",
            "supersedes": 11}],
        "exceptions": {"by": "k.osei", "n": 40, "shown": ["look at this"]},
        "fitted": fitted,
        "expired": [{"because": "xa", "n": 24, "title": "xb", "token": "xc"}],
        "halts": [{"address": "ha", "at": "hb", "by": "hc", "n": 25, "reason": "hd",
            "resumed": {"at": "he", "by": "hf", "reason": "hg"}, "safe_state": "hh",
            "standing": "hi"}],
        "format": "1.1", "job": "2026-0031", "journal": {"head": "head", "n": 40},
        "journal_notes": [{"n": 5, "text": "torn"}], "kind": "demo",
        "late": [{"address": "la", "at": "lb", "by": "lc", "n": 26, "observed": "ld",
            "reason": "le"}],
        "lapsed": [{"address": "x", "by_n": 13, "n": 10}],
        "loosened": loosened,
        "machine": {"equipment": "pump", "equipment_revision": 2, "equipment_title": "Pump",
            "fit_out": "A", "serial": "0012", "tag": "P-101", "title": "Feed pump"},
        "manifest": {"files/shop.yaml": "hash of it"},
        "not_applicable": [{"address": "y", "because": "elastomer == epdm", "text": "Rinse"}],
        "notes": [{"address": "z", "at": "when", "by": "i.varga", "n": 8, "text": "note"}],
        "opened_at": "2026-11-25T08:00:00.000+01:00", "outcome": "stopped",
        "parked": [{"address": "q", "at": "then", "by": "who", "n": 3, "text": "t", "what": "w"}],
        "parts": [{"because": "b", "number": "77", "part": "valve_spring",
            "position": "cylinder=2", "quantity": 1, "title": "Spring"}],
        "people": [{"certificate": "C", "id": "i.varga", "name": "Ines Varga",
            "roles": ["apprentice"]}],
        "previous_release": "zeros",
        "procedure": {"id": "overhaul", "revision": 3, "title": "Overhaul"},
        "procedures": [{"id": "safe", "revision": 4, "title": "Make safe"}],
        "rechecks": rechecks,
        "release": {"at": "2026-11-25T16:00:00.000+01:00", "head": "h", "head_n": 40,
            "job": "2026-0031", "kind": "release", "meaning": "released",
            "role": "mechanic", "signer": "k.osei"},
        "semantics": 1, "shop": {"id": "shop", "revision": 5, "title": "Shop"},
        "signatures": [{"address": "hold", "at": "at", "meaning": "hold_released", "n": 30,
            "role": "mechanic", "says": "releases the hold", "signer": "k.osei"}],
        "steps": steps,
        "stop": {"address": "s", "safe_state": "closed", "tell": ["shift"], "text": "No statement"},
    });
    record["wrong_acceptances"] = json!({"expected": "0.017", "n_readings": 62});
    record["dispositions"] = dispositions;
    record["zero_checks"] = json!([{"at": "za", "by": "zb", "instrument": instrument, "n": 35,
        "reading": figure, "so": false}]);
    record
}

/// The record that a tree of values is.
pub(super) fn parsed(value: &Json) -> Record {
    Record::parse(canonical::to_line(value).as_bytes()).unwrap()
}

/// A record of nothing but these steps.
pub(super) fn of_steps(steps: &[Step]) -> Record {
    let mut value = full();
    for list in
        ["concessions", "corrections", "dispositions", "fitted", "parts", "lapsed", "signatures"]
    {
        value[list] = json!([]);
    }
    value["outcome"] = json!("completed");
    value.as_object_mut().unwrap().remove("stop");
    value["steps"] = serde_json::to_value(steps).unwrap();
    parsed(&value)
}
