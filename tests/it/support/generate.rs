//! Entries at random, for properties.

use std::collections::BTreeMap;

use chrono::{DateTime, FixedOffset, NaiveDate};
use proptest::collection::{btree_map, vec};
use proptest::option;
use proptest::prelude::*;
use witnessmark::canonical::INTEGER_MAX;
use witnessmark::ids::{BootClock, Sha256, StepId, TokenId};
use witnessmark::ids::{EquipmentId, JobId, Moment, Name, PersonId, ProcedureId, Revision, Role};
use witnessmark::procedure::model::Verdict;
use witnessmark::shop::model::ShopKind;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::disposition::{Disposition, Said};
use witnessmark::walk::event::{
    Evidence, Expiry, InstrumentSnapshot, JobOpened, Meaning, Several, Signed, Statement, Waited,
};
use witnessmark::walk::{Address, Answer, Entry, Event, Judged, Late, Next, Segment};

use super::assembly;

/// Text as people type it, with everything that could break a line or its canonical form.
pub(crate) fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[ -~]{0,24}",
        1 => "\\PC{0,12}",
        1 => any::<String>().prop_map(|text| text.chars().take(12).collect()),
        1 => Just("Bj\u{f6}rn / Bjo\u{308}rn \u{2028}\0\r\n\t\"\\ \u{1f527} 2.50 -0 1e21".to_owned()),
    ]
}

fn word() -> impl Strategy<Value = String> {
    "[a-z][a-z0-9_]{0,11}"
}

pub(crate) fn name() -> impl Strategy<Value = Name> {
    word().prop_map(|word| Name::new(word).unwrap())
}

pub(crate) fn person() -> impl Strategy<Value = PersonId> {
    "[a-z]\\.[a-z]{1,8}".prop_map(|word| PersonId::new(word).unwrap())
}

pub(crate) fn job() -> impl Strategy<Value = JobId> {
    (2000..2100i32, 1..20_000u32).prop_map(|(year, number)| JobId::numbered(year, number))
}

pub(crate) fn sha256() -> impl Strategy<Value = Sha256> {
    any::<[u8; 8]>().prop_map(|bytes| Sha256::of(&bytes))
}

pub(crate) fn moment() -> impl Strategy<Value = Moment> {
    let millis = 0..4_102_444_800_000i64;
    (millis, -14 * 60..=14 * 60i32).prop_map(|(millis, minutes)| {
        let offset = FixedOffset::east_opt(minutes * 60).unwrap();
        Moment::new(DateTime::from_timestamp_millis(millis).unwrap().with_timezone(&offset))
    })
}

fn counter() -> impl Strategy<Value = u64> {
    prop_oneof![3 => 0..2000u64, 1 => 0..=INTEGER_MAX]
}

pub(crate) fn address() -> impl Strategy<Value = Address> {
    let positions = vec((name(), "[A-Za-z0-9_]{1,6}"), 0..3);
    let segment = (word(), positions, prop_oneof![3 => Just(1u32), 1 => 2..40u32]);
    vec(segment, 1..5).prop_map(|segments| {
        let segments = segments.into_iter().map(|(id, positions, pass)| Segment {
            id: StepId::new(id).unwrap(),
            positions,
            pass,
        });
        Address(segments.collect())
    })
}

pub(crate) fn reading() -> impl Strategy<Value = Reading> {
    let units = vec![Unit::One, Unit::Millimetre, Unit::Micrometre, Unit::Inch, Unit::Thou];
    let typed = prop_oneof![
        4 => "-?[0-9]{1,6}\\.[0-9]{1,4}",
        2 => "[0-9]{1,6}",
        1 => "[0-9]{1,3}\\.[0-9]{1,3} mm",
        1 => Just("1 3/16 in".to_owned()),
    ];
    (typed, proptest::sample::select(units))
        .prop_filter_map("no figure", |(text, unit)| Reading::parse(&text, unit).ok())
}

fn day() -> impl Strategy<Value = NaiveDate> {
    (2000..2100i32, 1..=366u32)
        .prop_filter_map("no such day", |(year, day)| NaiveDate::from_yo_opt(year, day))
}

pub(super) fn instrument() -> impl Strategy<Value = InstrumentSnapshot> {
    let hash = option::of(sha256().prop_map(|hash| hash.to_string()));
    (text(), name(), day(), [text(), text(), text(), text()], hash).prop_map(
        |(id, kind, calibration_due, [certificate, resolution, uncertainty, k], hash)| {
            InstrumentSnapshot {
                id,
                kind,
                calibration_due,
                certificate,
                certificate_sha256: hash,
                resolution,
                uncertainty,
                k,
            }
        },
    )
}

fn verdict() -> impl Strategy<Value = Verdict> {
    proptest::sample::select(Verdict::ALL.to_vec())
}

fn judged() -> impl Strategy<Value = Judged> {
    let next = prop_oneof![3 => address().prop_map(Next::Ask), 1 => Just(Next::End), 1 => Just(Next::Stopped)];
    (option::of(verdict()), next).prop_map(|(verdict, next)| Judged { verdict, next })
}

fn evidence() -> impl Strategy<Value = Evidence> {
    (text(), counter(), sha256()).prop_map(|(name, len_bytes, sha256)| Evidence {
        name,
        len_bytes,
        sha256,
    })
}

fn answer() -> impl Strategy<Value = Answer> {
    prop_oneof![
        Just(Answer::Done),
        vec(any::<bool>(), 0..6).prop_map(Answer::Items),
        vec(name(), 0..4).prop_map(Answer::Found),
        (reading(), instrument()).prop_map(|(reading, instrument)| Answer::Read {
            reading,
            instrument,
            several: None
        }),
        (reading(), instrument(), vec(reading(), 1..4), option::of(text())).prop_map(
            |(reading, instrument, taken, reason)| Answer::Read {
                reading,
                instrument,
                several: Some(Box::new(Several { taken, reason })),
            }
        ),
        text().prop_map(|reason| Answer::CouldNotMeasure { reason }),
        vec(assembly::laid(), 0..4).prop_map(Answer::Built),
        vec(assembly::round(), 0..3).prop_map(Answer::Tightened),
        text().prop_map(Answer::Entered),
        reading().prop_map(Answer::EnteredFigure),
        evidence().prop_map(Answer::Attached),
        text().prop_map(|reason| Answer::NotAttached { reason }),
        (any::<bool>(), text()).prop_map(|(done, reason)| Answer::Deviated { done, reason }),
        (verdict(), text()).prop_map(|(verdict, reason)| Answer::Decided { verdict, reason }),
        Just(Answer::Released),
        (moment(), moment(), option::of(boot()), counter(), counter(), any::<bool>()).prop_map(
            |(begun, ended, boot, elapsed_s, at_longest_s, doubtful)| {
                Answer::Waited(Waited { begun, ended, boot, elapsed_s, at_longest_s, doubtful })
            }
        ),
        Just(Answer::Stopped),
    ]
}

fn boot() -> impl Strategy<Value = BootClock> {
    (sha256(), counter()).prop_map(|(boot, seconds)| BootClock { boot, seconds })
}

fn meaning() -> impl Strategy<Value = Meaning> {
    prop_oneof![
        Just(Meaning::Identified),
        (counter(), counter()).prop_map(|(from_n, to_n)| Meaning::Performed { from_n, to_n }),
        (verdict(), text()).prop_map(|(verdict, reason)| Meaning::Decided { verdict, reason }),
        Just(Meaning::HoldReleased),
        text().prop_map(|reason| Meaning::Resumed { reason }),
        (any::<bool>(), text()).prop_map(|(done, reason)| Meaning::Deviated { done, reason }),
        (verdict(), text()).prop_map(|(verdict, reason)| Meaning::Conceded { verdict, reason }),
        said().prop_map(Meaning::Disposed),
    ]
}

fn said() -> impl Strategy<Value = Said> {
    let disposition = proptest::sample::select(Disposition::ALL.to_vec());
    (disposition, option::of(text()), text()).prop_map(|(disposition, lot, reason)| Said {
        disposition,
        lot,
        reason,
    })
}

pub(crate) fn statement() -> impl Strategy<Value = Statement> {
    let role = proptest::sample::select(Role::ALL.map(|(role, _)| role).to_vec());
    let head = (counter(), sha256());
    (job(), head, option::of(address()), person(), role, meaning(), moment()).prop_map(
        |(job, (head_n, head), address, signer, role, meaning, at)| Statement {
            job,
            head_n,
            head,
            address,
            signer,
            role,
            meaning,
            at,
        },
    )
}

fn signed() -> impl Strategy<Value = Box<Signed>> {
    (statement(), "[A-Za-z0-9+/\n]{0,80}")
        .prop_map(|(statement, signature)| Box::new(Signed { statement, signature }))
}

fn job_opened() -> impl Strategy<Value = Event> {
    let files = btree_map(text(), sha256(), 0..4);
    let ids = (word(), word(), any::<u32>(), any::<bool>());
    (job(), ids, text(), text(), files, sha256()).prop_map(
        |(job, (equipment, procedure, number, is_demo), machine, serial, files, previous)| {
            Event::JobOpened(Box::new(JobOpened {
                job,
                kind: if is_demo { ShopKind::Demo } else { ShopKind::Record },
                semantics: number,
                machine,
                serial,
                equipment: EquipmentId::new(equipment).unwrap(),
                procedure: ProcedureId::new(procedure).unwrap(),
                revision: Revision(number),
                files: files.into_iter().collect::<BTreeMap<_, _>>(),
                previous_release: previous,
            }))
        },
    )
}

fn answered() -> impl Strategy<Value = Event> {
    (address(), answer(), judged(), option::of(signed())).prop_map(
        |(address, answer, judged, signed)| Event::Answered { address, answer, judged, signed },
    )
}

fn corrected() -> impl Strategy<Value = Event> {
    (address(), counter(), answer(), text(), judged(), option::of(signed())).prop_map(
        |(address, supersedes, answer, reason, judged, signed)| Event::Corrected {
            address,
            supersedes,
            answer,
            reason,
            judged,
            signed,
        },
    )
}

/// Every kind of event.
pub(crate) fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        job_opened(),
        signed().prop_map(Event::Identified),
        (address(), sha256())
            .prop_map(|(address, text)| Event::SafetyAcknowledged { address, text }),
        (address(), any::<u32>(), any::<bool>(), option::of(judged())).prop_map(
            |(address, item, so, judged)| Event::ItemChecked { address, item, so, judged }
        ),
        (address(), any::<u32>(), assembly::wrench(), option::of(judged())).prop_map(
            |(address, pass, wrench, judged)| Event::WrenchSet {
                address,
                pass,
                wrench: Box::new(wrench),
                judged,
            }
        ),
        (address(), any::<u32>(), assembly::tight(), option::of(judged())).prop_map(
            |(address, pass, tight, judged)| {
                Event::FastenerTightened { address, pass, tight, judged }
            }
        ),
        (address(), any::<u32>(), assembly::direction(), reading(), instrument()).prop_map(
            |(address, fastener, direction, reading, instrument)| Event::FastenerRechecked {
                address,
                fastener,
                direction,
                reading,
                instrument,
            }
        ),
        (address(), any::<u32>(), text(), judged()).prop_map(
            |(address, fastener, reason, judged)| Event::FastenerLoosened {
                address,
                fastener,
                reason,
                judged,
            }
        ),
        (address(), assembly::laid(), option::of(judged()))
            .prop_map(|(address, laid, judged)| { Event::LayerLaid { address, laid, judged } }),
        answered(),
        corrected(),
        (address(), judged()).prop_map(|(address, judged)| Event::Confirmed { address, judged }),
        (address(), verdict(), text(), judged(), signed()).prop_map(
            |(address, verdict, reason, judged, signed)| Event::Conceded {
                address,
                verdict,
                reason,
                judged,
                signed,
            }
        ),
        (address(), said(), signed()).prop_map(|(address, said, signed)| Event::Disposed {
            address,
            said,
            signed
        }),
        (address(), name(), 0..4_usize).prop_map(|(address, token, why)| Event::TokenExpired {
            token: TokenId::new(token.as_str()).unwrap(),
            address,
            because: Expiry::ALL[why],
        }),
        (option::of(address()), option::of(name()), text(), text()).prop_map(
            |(address, standing, reason, safe_state)| Event::WorkHalted {
                address,
                standing,
                reason,
                safe_state,
            }
        ),
        (text(), signed()).prop_map(|(reason, signed)| Event::WorkResumed { reason, signed }),
        text().prop_map(|reason| Event::Paused { reason }),
        vec(text(), 0..5).prop_map(|shown| Event::TakenUp { shown }),
        (address(), person()).prop_map(|(address, who)| Event::WitnessTold { address, who }),
        (option::of(address()), evidence())
            .prop_map(|(address, evidence)| Event::EvidenceAdded { address, evidence }),
        (address(), option::of(boot()))
            .prop_map(|(address, boot)| Event::WaitBegun { address, boot }),
        (instrument(), reading(), any::<bool>())
            .prop_map(|(instrument, reading, so)| Event::ZeroChecked { instrument, reading, so }),
        (option::of(address()), text())
            .prop_map(|(address, text)| Event::NoteAdded { address, text }),
        signed().prop_map(Event::PerformedSigned),
        (counter(), sha256())
            .prop_map(|(len_bytes, sha256)| Event::TornTailSetAside { len_bytes, sha256 }),
        moment().prop_map(|from| Event::ClockWentBack { from }),
        vec(text(), 0..5).prop_map(|shown| Event::ExceptionsAcknowledged { shown }),
        (sha256(), sha256()).prop_map(|(record, signature)| Event::Released { record, signature }),
    ]
}

/// An entry with any number.
pub(crate) fn entry() -> impl Strategy<Value = Entry> {
    let late = option::of((moment(), text()))
        .prop_map(|late| late.map(|(observed, reason)| Late { observed, reason }));
    (counter(), moment(), option::of(person()), late, event())
        .prop_map(|(n, at, by, late, event)| Entry { n, at, by, late, event })
}

/// Entries numbered from 0, as a journal holds them.
pub(crate) fn entries(
    count: impl Into<proptest::collection::SizeRange>,
) -> impl Strategy<Value = Vec<Entry>> {
    vec(entry(), count).prop_map(|mut entries| {
        for (n, entry) in (0..).zip(&mut entries) {
            entry.n = n;
        }
        entries
    })
}

/// The journal of `entries`.
pub(crate) fn journal_bytes(entries: &[Entry]) -> Vec<u8> {
    let mut prev = Sha256::ZERO;
    let mut bytes = Vec::new();
    for entry in entries {
        let line = witnessmark::journal::encode(entry, prev);
        prev = Sha256::of(line.as_bytes());
        bytes.extend_from_slice(line.as_bytes());
        bytes.push(b'\n');
    }
    bytes
}

/// `count` different entries, always the same ones: small notes and large readings in turn.
pub(crate) fn session(count: usize) -> Vec<Entry> {
    let at = Moment::parse("2026-11-25T08:00:00+01:00").unwrap();
    let by = Some(PersonId::new("i.varga").unwrap());
    let instrument = InstrumentSnapshot {
        id: "C-03".to_owned(),
        kind: Name::new("caliper").unwrap(),
        certificate_sha256: None,
        calibration_due: NaiveDate::from_ymd_opt(2027, 2, 28).unwrap(),
        certificate: "K 1182".to_owned(),
        resolution: "0.01 mm".to_owned(),
        uncertainty: "0.02 mm".to_owned(),
        k: "2".to_owned(),
    };
    let event = |n: usize| {
        let address = Address::parse(&format!("wear/spring#{}", n + 2)).unwrap();
        if n.is_multiple_of(3) {
            let text = format!("seat {n}: clean, no groove ö");
            return Event::NoteAdded { address: Some(address), text };
        }
        let reading = Reading::parse(&format!("44.{n:02}"), Unit::Millimetre).unwrap();
        Event::Answered {
            address,
            answer: Answer::Read { reading, instrument: instrument.clone(), several: None },
            judged: Judged { verdict: Some(Verdict::Accept), next: Next::End },
            signed: None,
        }
    };
    (0..count)
        .map(|n| Entry { n: n as u64, at, by: by.clone(), late: None, event: event(n) })
        .collect()
}

fn evidence_file() -> Evidence {
    Evidence { name: "plate ö.jpg".to_owned(), len_bytes: 812_113, sha256: Sha256::of(b"photo") }
}

/// One entry of every kind of event and answer, always the same ones.
#[expect(clippy::too_many_lines, reason = "a list, one of every kind")]
pub(crate) fn each_kind() -> Vec<Entry> {
    let at = Moment::parse("2026-02-28T23:59:59.5+01:00").unwrap();
    let address = Address::parse("overhaul/valves[cylinder=2,side=inlet]/spring#2").unwrap();
    let judged = Judged { verdict: Some(Verdict::Rework), next: Next::Ask(address.clone()) };
    let signed = |meaning: Meaning, address: Option<Address>| {
        let statement = Statement {
            job: JobId::numbered(2026, 31),
            head_n: 7,
            head: Sha256::of(b"head"),
            address,
            signer: PersonId::new("k.osei").unwrap(),
            role: Role::Mechanic,
            meaning,
            at,
        };
        Box::new(Signed {
            statement,
            signature: "-----BEGIN SSH SIGNATURE-----\nU1NI\n".to_owned(),
        })
    };
    let answered = |answer: Answer, signed: Option<Box<Signed>>| Event::Answered {
        address: address.clone(),
        answer,
        judged: judged.clone(),
        signed,
    };
    let decided = || (Verdict::Accept, "seat is \"good\"".to_owned());
    let names = vec![Name::new("scored").unwrap(), Name::new("worn").unwrap()];
    let mut events: Vec<Event> = session(2).into_iter().map(|entry| entry.event).collect();
    events.extend([
        Event::JobOpened(Box::new(JobOpened {
            job: JobId::numbered(2026, 31),
            kind: ShopKind::Demo,
            semantics: 1,
            machine: "P-101".to_owned(),
            serial: "0012".to_owned(),
            equipment: EquipmentId::new("end_suction_pump").unwrap(),
            procedure: ProcedureId::new("overhaul").unwrap(),
            revision: Revision(3),
            files: BTreeMap::from([("procedures/overhaul.yaml".to_owned(), Sha256::of(b"f"))]),
            previous_release: Sha256::ZERO,
        })),
        Event::Identified(signed(Meaning::Identified, None)),
        Event::SafetyAcknowledged { address: address.clone(), text: Sha256::of(b"text") },
        Event::ItemChecked { address: address.clone(), item: 0, so: true, judged: None },
        answered(Answer::Done, None),
        answered(Answer::Items(vec![true, false]), None),
        answered(Answer::Found(names), None),
        answered(Answer::CouldNotMeasure { reason: "too dirty".to_owned() }, None),
        answered(Answer::Entered("0012".to_owned()), None),
        answered(Answer::EnteredFigure(Reading::parse("2.50", Unit::One).unwrap()), None),
        answered(
            Answer::Decided { verdict: decided().0, reason: decided().1 },
            Some(signed(
                Meaning::Decided { verdict: decided().0, reason: decided().1 },
                Some(address.clone()),
            )),
        ),
        answered(Answer::Released, Some(signed(Meaning::HoldReleased, Some(address.clone())))),
        answered(Answer::Stopped, None),
        Event::Corrected {
            address: address.clone(),
            supersedes: 4,
            answer: Answer::EnteredFigure(Reading::parse("3/16 in", Unit::Inch).unwrap()),
            reason: "read the wrong scale".to_owned(),
            judged: Judged { verdict: None, next: Next::Stopped },
            signed: Some(signed(
                Meaning::Decided { verdict: Verdict::Accept, reason: "seen again".to_owned() },
                Some(address.clone()),
            )),
        },
        Event::Confirmed { address: address.clone(), judged: judged.clone() },
        Event::PerformedSigned(signed(Meaning::Performed { from_n: 1, to_n: 7 }, None)),
        Event::TornTailSetAside { len_bytes: 17, sha256: Sha256::of(b"torn") },
        Event::ClockWentBack { from: at },
        Event::ExceptionsAcknowledged { shown: vec!["step `spring` was corrected".to_owned()] },
        Event::Released { record: Sha256::of(b"r"), signature: Sha256::of(b"s") },
        answered(Answer::Attached(evidence_file()), None),
        answered(Answer::NotAttached { reason: "no light".to_owned() }, None),
        answered(
            Answer::Deviated { done: true, reason: "with a strap".to_owned() },
            Some(signed(
                Meaning::Deviated { done: true, reason: "with a strap".to_owned() },
                Some(address.clone()),
            )),
        ),
        Event::Conceded {
            address: address.clone(),
            verdict: Verdict::Accept,
            reason: "for one week".to_owned(),
            judged: Judged { verdict: Some(Verdict::Accept), next: Next::End },
            signed: signed(
                Meaning::Conceded { verdict: Verdict::Accept, reason: "for one week".to_owned() },
                Some(address.clone()),
            ),
        },
        Event::WitnessTold { address: address.clone(), who: PersonId::new("k.osei").unwrap() },
        Event::EvidenceAdded { address: Some(address.clone()), evidence: evidence_file() },
    ]);
    events.extend(assembly::each_kind(&address, &judged));
    let reason = || "the coupling was turned".to_owned();
    events.extend([
        Event::TokenExpired {
            token: TokenId::new("zero_pressure").unwrap(),
            address: address.clone(),
            because: Expiry::Hands,
        },
        Event::WorkHalted {
            address: Some(address.clone()),
            standing: Some(Name::new("leak").unwrap()),
            reason: reason(),
            safe_state: "Vents open".to_owned(),
        },
        Event::WorkResumed {
            reason: reason(),
            signed: signed(Meaning::Resumed { reason: reason() }, None),
        },
        Event::Paused { reason: reason() },
        Event::TakenUp { shown: vec!["open: the spring".to_owned()] },
    ]);
    events.push(Event::WaitBegun {
        address: address.clone(),
        boot: Some(BootClock { boot: Sha256::of(b"boot"), seconds: 4_000 }),
    });
    events.push(Event::Answered {
        address: address.clone(),
        answer: Answer::Waited(Waited {
            begun: at,
            ended: at,
            boot: Some(BootClock { boot: Sha256::of(b"boot"), seconds: 5_800 }),
            elapsed_s: 1_800,
            at_longest_s: 1_801,
            doubtful: false,
        }),
        judged,
        signed: None,
    });
    let entry = |(n, event)| Entry { n, at, by: None, late: None, event };
    let mut entries: Vec<Entry> = (0..).zip(events).map(entry).collect();
    let observed = Moment::parse("2026-02-28T22:15:00+01:00").unwrap();
    entries.push(Entry {
        n: entries.len() as u64,
        at,
        by: None,
        late: Some(Late { observed, reason: "both hands in oil".to_owned() }),
        event: Event::ItemChecked { address: address.clone(), item: 0, so: true, judged: None },
    });
    let said = Said::parse(Disposition::Replaced, "lot L-77: from the store");
    let signed = signed(Meaning::Disposed(said.clone()), Some(address.clone()));
    let n = entries.len() as u64;
    let event = Event::Disposed { address, said, signed };
    entries.push(Entry { n, at, by: None, late: None, event });
    let event = Event::ZeroChecked {
        instrument: InstrumentSnapshot {
            id: "Z-01".to_owned(),
            kind: Name::new("depth_gauge").unwrap(),
            calibration_due: NaiveDate::from_ymd_opt(2027, 2, 28).unwrap(),
            certificate: "K 1190".to_owned(),
            certificate_sha256: Some(Sha256::of(b"certificate").to_string()),
            resolution: "0.01 mm".to_owned(),
            uncertainty: "0.01 mm".to_owned(),
            k: "2".to_owned(),
        },
        reading: Reading::parse("0.02", Unit::Millimetre).unwrap(),
        so: false,
    };
    let n = entries.len() as u64;
    entries.push(Entry { n, at, by: None, late: None, event });
    entries
}
