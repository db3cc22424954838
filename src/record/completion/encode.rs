//! From a job to its record: a pure function, so that `verify` can make the record again and compare.

use std::collections::BTreeMap;

use super::{
    Answer, Concession, Correction, Evidence, EvidenceBeside, Exceptions, Expired, Figure, Finding,
    Fitted, Halt, Headline, Instrument, Item, Journal, JournalNote, Lapsed, LateEntry, Layer,
    Limit, Machine, NotApplicable, Note, Parked, Part, Person, Procedure, Record, Resumed,
    SafetyRead, Several, Shop, Signature, Step, Stop, Version, Witness, WrongAcceptances,
    ZeroCheck, fasteners,
};
use crate::canonical;
use crate::ids::{Name, PersonId, Sha256};
use crate::procedure::model::{EntryKind, HeadlineNote, Phase, Verdict};
use crate::record::release::{Release, ReleaseWire};
use crate::record::statement::signed_of;
use crate::units::Reading;
use crate::walk::event::{self, Entry, Event, Meaning, Signed};
use crate::walk::exceptions::{answer_text, parts_needed};
use crate::walk::fitted::fitted;
use crate::walk::flow::{Ask, FindingNote, InstanceIdx};
use crate::walk::job::{Files, Held, JobState};
use crate::walk::place::{Stand, Status, exits_taken};

/// Writes the record of a job as canonical JSON without a line feed.
///
/// `entries` are those that `release` is over; `manifest` names the files below `files/` and
/// `evidence/`. A `released` entry does not change what is written.
pub fn encode(
    files: &Files,
    state: &JobState,
    entries: &[Entry],
    manifest: &BTreeMap<String, Sha256>,
    release: &Release,
) -> String {
    encode_as(Version::NEWEST, (files, state, entries), manifest, release)
}

/// The same as the format `version` has it, so that a record of that version can be made again.
pub fn encode_as(
    version: Version,
    (files, state, entries): (&Files, &JobState, &[Entry]),
    manifest: &BTreeMap<String, Sha256>,
    release: &Release,
) -> String {
    let writer = Writer { version, files, state, entries };
    canonical::to_line(&writer.record(manifest, release))
}

pub(super) struct Writer<'a> {
    version: Version,
    pub(super) files: &'a Files,
    pub(super) state: &'a JobState,
    entries: &'a [Entry],
}

pub(super) fn id(person: Option<&PersonId>) -> Option<String> {
    person.map(ToString::to_string)
}

impl Writer<'_> {
    fn record(&self, manifest: &BTreeMap<String, Sha256>, release: &Release) -> Record {
        let (flow, state) = (&self.files.flow, self.state);
        let procedure = |id: String, revision: u32, title: &str| Procedure {
            id,
            revision,
            title: title.to_owned(),
        };
        Record {
            concessions: self.concessions(),
            corrections: self.corrections(),
            dispositions: self.dispositions(),
            evidence: self.evidence(),
            exceptions: self.exceptions(),
            expired: self.expired(),
            fitted: fitted_of(self.files, self.state),
            format: self.version.word().to_owned(),
            halts: self.halts(),
            job: state.opened.job.to_string(),
            journal: Journal { head: release.head.to_string(), n: release.head_n },
            journal_notes: state
                .journal_notes
                .iter()
                .map(|(n, text)| JournalNote { n: *n, text: text.clone() })
                .collect(),
            kind: state.opened.kind.word().to_owned(),
            lapsed: self.lapsed(),
            late: self.late(),
            loosened: self.loosened(),
            machine: self.machine(),
            manifest: manifest.iter().map(|(p, hash)| (p.clone(), hash.to_string())).collect(),
            not_applicable: self.not_applicable(),
            notes: self.notes(),
            opened_at: state.opened_at.to_string(),
            outcome: match state.walk.stand {
                Stand::Stopped(_) => "stopped",
                Stand::Asked(..) if state.halted().is_some() => "stopped",
                Stand::End | Stand::Asked(..) => "completed",
            }
            .to_owned(),
            parked: self.parked(),
            parts: self.parts(),
            people: self.people(),
            previous_release: state.opened.previous_release.to_string(),
            procedure: procedure(flow.procedure.to_string(), flow.revision.0, &flow.title),
            procedures: flow
                .procedures
                .iter()
                .map(|(id, (revision, title))| procedure(id.to_string(), revision.0, title))
                .collect(),
            rechecks: self.rechecks(),
            zero_checks: self.zero_checks(),
            release: ReleaseWire::from(release),
            semantics: state.opened.semantics,
            shop: Shop {
                id: self.files.shop.id.to_string(),
                revision: self.files.shop.revision.0,
                title: self.files.shop.title.clone(),
            },
            signatures: self.signatures(),
            steps: self.steps(),
            stop: self.stop(),
            witnesses: self.witnesses(),
            wrong_acceptances: self.wrong_acceptances(),
        }
    }

    pub(super) fn entry(&self, n: u64) -> Option<&Entry> {
        self.entries.get(usize::try_from(n).ok()?)
    }

    fn machine(&self) -> Machine {
        let (opened, equipment) = (&self.state.opened, &self.files.flow.equipment);
        let listed = self.files.shop.machines.iter().find(|m| m.tag == opened.machine);
        Machine {
            equipment: opened.equipment.to_string(),
            equipment_revision: equipment.revision.0,
            equipment_title: equipment.title.clone(),
            fit_out: self.state.walk.fit_out.clone(),
            serial: opened.serial.clone(),
            tag: opened.machine.clone(),
            title: listed.map(|machine| machine.title.clone()),
        }
    }

    fn people(&self) -> Vec<Person> {
        let mut seen: Vec<&PersonId> = Vec::new();
        for by in self.entries.iter().filter_map(|entry| entry.by.as_ref()) {
            if !seen.contains(&by) {
                seen.push(by);
            }
        }
        let person = |id: &PersonId| {
            let listed = self.files.shop.person(id);
            Person {
                certificate: listed.and_then(|p| p.certificate.clone()),
                id: id.to_string(),
                name: listed.map_or_else(String::new, |p| p.name.clone()),
                roles: listed
                    .map(|p| p.roles.iter().map(|role| role.word().to_owned()).collect())
                    .unwrap_or_default(),
            }
        };
        seen.into_iter().map(person).collect()
    }

    pub(super) fn held(&self, index: InstanceIdx) -> Option<&Held> {
        self.state.held_of(index)
    }

    fn steps(&self) -> Vec<Step> {
        let mut safety: BTreeMap<String, SafetyRead> = BTreeMap::new();
        let mut confirmed: BTreeMap<String, u64> = BTreeMap::new();
        for entry in self.entries {
            if let Event::SafetyAcknowledged { address, text } = &entry.event {
                let read = SafetyRead {
                    at: entry.at.to_string(),
                    by: id(entry.by.as_ref()),
                    n: entry.n,
                    text: text.to_string(),
                };
                safety.insert(address.to_string(), read);
            }
            if let Event::Confirmed { address, .. } = &entry.event {
                confirmed.insert(address.to_string(), entry.n);
            }
        }
        let visited = self.state.walk.path.iter();
        visited
            .filter_map(|index| {
                let held = self.held(*index)?;
                let mut step = self.step(*index, held);
                step.safety = safety.get(&step.address).cloned();
                step.confirmed = confirmed.get(&step.address).copied().filter(|n| *n > held.n);
                Some(step)
            })
            .collect()
    }

    fn wrong_acceptances(&self) -> Option<WrongAcceptances> {
        let (flow, state) = (&self.files.flow, self.state);
        let visited = state.walk.path.iter();
        let answered: Vec<_> = visited
            .filter_map(|index| {
                Some((state.walk.ask(flow, state, *index), &self.held(*index)?.answer))
            })
            .collect();
        WrongAcceptances::of(answered.iter().map(|(ask, answer)| (ask.as_ref(), *answer)))
    }

    fn step(&self, index: InstanceIdx, held: &Held) -> Step {
        let instance = self.files.flow.instance(index);
        let ask = self.state.walk.ask(&self.files.flow, self.state, index);
        let verdict = self.state.walk.verdicts.get(index).copied().flatten();
        Step {
            address: instance.address.to_string(),
            answer: self.answer(&ask, &held.answer),
            at: held.at.to_string(),
            by: id(held.by.as_ref()),
            confirmed: None,
            headline: self.headline(instance.headline.as_ref(), &ask, &held.answer),
            limit: self.limit(&ask, &held.answer),
            n: held.n,
            observed: held.late.as_ref().map(|late| late.observed.to_string()),
            phase: instance.phase.map(|phase| match phase {
                Phase::Found => "found".to_owned(),
                Phase::Left => "left".to_owned(),
            }),
            safety: None,
            said: exits_taken(&ask, &held.answer)
                .iter()
                .filter_map(|exit| exit.say.clone())
                .collect(),
            text: instance.ask.text().to_owned(),
            verdict: verdict.map(word),
            verdict_judged: self.entry(held.n).and_then(judged_verdict).map(word),
            what: answer_text(&ask, &held.answer),
            within: instance.within.clone(),
        }
    }

    /// What an answer was held against; without the limit's name in records of before 1.1.
    fn limit(&self, ask: &Ask, answer: &event::Answer) -> Option<Limit> {
        let limit = Limit::of(ask, answer)?;
        let name = limit.name.clone().filter(|_| self.version >= Version::V1_1);
        Some(Limit { name, ..limit })
    }

    /// What the first page says of an answer; nothing in records of before 1.1.
    fn headline(
        &self,
        note: Option<&HeadlineNote>,
        ask: &Ask,
        answer: &event::Answer,
    ) -> Option<Headline> {
        let note = note.filter(|_| self.version >= Version::V1_1)?;
        Some(Headline {
            label: note.label.clone(),
            says: headline_text(ask, answer),
            under: note.under.word().to_owned(),
        })
    }

    fn not_applicable(&self) -> Vec<NotApplicable> {
        let flow = &self.files.flow;
        let instances = flow.instances.iter().zip(&self.state.walk.status);
        instances
            .filter_map(|(instance, status)| match status {
                Status::NotApplicable(guard) => Some(NotApplicable {
                    address: instance.address.to_string(),
                    because: flow.guard(*guard).text(flow),
                    text: instance.ask.text().to_owned(),
                }),
                Status::Done | Status::Current | Status::Ahead | Status::NotBegun => None,
            })
            .collect()
    }

    fn corrections(&self) -> Vec<Correction> {
        let flow = &self.files.flow;
        let correction = |note: &crate::walk::job::CorrectionNote| {
            let ask = &flow.instance(flow.find(&note.address)?).ask;
            let before = self.entry(note.supersedes);
            Some(Correction {
                address: note.address.to_string(),
                after: answer_text(ask, &note.after),
                at: note.at.to_string(),
                before: answer_text(ask, &note.before),
                before_at: before.map_or_else(String::new, |entry| entry.at.to_string()),
                before_by: before.and_then(|entry| id(entry.by.as_ref())),
                by: id(note.by.as_ref()),
                n: note.n,
                reason: note.reason.clone(),
                supersedes: note.supersedes,
            })
        };
        self.state.corrections.iter().filter_map(correction).collect()
    }

    fn concessions(&self) -> Vec<Concession> {
        let flow = &self.files.flow;
        let conceded = self.state.conceded.iter().filter(|(i, _)| self.state.walk.path.contains(i));
        conceded
            .map(|(index, conceded)| {
                let rules = self.held(*index).and_then(|held| {
                    self.state.walk.judge_at(flow, self.state, *index, &held.answer)
                });
                Concession {
                    address: flow.instance(*index).address.to_string(),
                    at: conceded.at.to_string(),
                    by: conceded.by.to_string(),
                    n: conceded.n,
                    reason: conceded.reason.clone(),
                    rules: rules.map(word).unwrap_or_default(),
                    verdict: word(conceded.verdict),
                }
            })
            .collect()
    }

    fn evidence(&self) -> Vec<EvidenceBeside> {
        let added = self.state.evidence.iter();
        added
            .map(|(n, by, address, file)| EvidenceBeside {
                address: address.as_ref().map(ToString::to_string),
                at: self.entry(*n).map_or_else(String::new, |entry| entry.at.to_string()),
                by: id(by.as_ref()),
                file: evidence(file),
                n: *n,
            })
            .collect()
    }

    fn witnesses(&self) -> Vec<Witness> {
        let told = self.state.told.iter();
        told.map(|(index, (n, who))| Witness {
            address: self.files.flow.instance(*index).address.to_string(),
            at: self.entry(*n).map_or_else(String::new, |entry| entry.at.to_string()),
            n: *n,
            who: who.to_string(),
        })
        .collect()
    }

    fn late(&self) -> Vec<LateEntry> {
        let late = self.state.late.iter();
        late.map(|note| LateEntry {
            address: note.address.to_string(),
            at: note.at.to_string(),
            by: id(note.by.as_ref()),
            n: note.n,
            observed: note.late.observed.to_string(),
            reason: note.late.reason.clone(),
        })
        .collect()
    }

    fn lapsed(&self) -> Vec<Lapsed> {
        let lapsed = self.state.lapsed.iter();
        lapsed.map(|l| Lapsed { address: l.address.to_string(), by_n: l.by_n, n: l.n }).collect()
    }

    fn notes(&self) -> Vec<Note> {
        let notes = self.state.notes.iter();
        notes
            .map(|(n, by, address, text)| Note {
                address: address.as_ref().map(ToString::to_string),
                at: self.entry(*n).map_or_else(String::new, |entry| entry.at.to_string()),
                by: id(by.as_ref()),
                n: *n,
                text: text.clone(),
            })
            .collect()
    }

    fn parked(&self) -> Vec<Parked> {
        let parked = self.state.parked().into_iter();
        parked
            .filter_map(|index| {
                let (instance, held) = (self.files.flow.instance(index), self.held(index)?);
                Some(Parked {
                    address: instance.address.to_string(),
                    at: held.at.to_string(),
                    by: id(held.by.as_ref()),
                    n: held.n,
                    text: instance.ask.text().to_owned(),
                    what: answer_text(&instance.ask, &held.answer),
                })
            })
            .collect()
    }

    fn parts(&self) -> Vec<Part> {
        let listed = &self.files.flow.equipment.parts;
        parts_needed(self.files, self.state)
            .into_iter()
            .map(|needed| {
                let part = listed.get(&needed.part);
                Part {
                    because: needed.because,
                    number: part.and_then(|p| p.number.clone()),
                    title: part.map_or_else(|| needed.part.spoken(), |p| p.title.clone()),
                    part: needed.part.to_string(),
                    position: needed.position,
                    quantity: needed.quantity,
                }
            })
            .collect()
    }
}

/// The parts that a job fitted, as its record lists them.
pub fn fitted_of(files: &Files, state: &JobState) -> Vec<Fitted> {
    let listed = &files.flow.equipment.parts;
    fitted(files, state)
        .into_iter()
        .map(|part| Fitted {
            by: id(part.by.as_ref()),
            layer: part.layer.map(|layer| layer.to_string()),
            lot: part.lot,
            n: part.n,
            number: listed.get(&part.part).and_then(|p| p.number.clone()),
            part: part.part.to_string(),
            position: part.position,
            quantity: part.quantity,
            step: part.step.to_string(),
            title: part.title,
        })
        .collect()
}

impl Writer<'_> {
    fn exceptions(&self) -> Exceptions {
        match &self.state.exceptions_seen {
            None => Exceptions { by: None, n: None, shown: Vec::new() },
            Some((n, person, shown)) => {
                Exceptions { by: Some(person.to_string()), n: Some(*n), shown: shown.clone() }
            }
        }
    }

    fn signatures(&self) -> Vec<Signature> {
        let signed = |entry: &Entry| {
            let (Signed { statement, .. }, _) = signed_of(&entry.event)?;
            Some(Signature {
                address: statement.address.as_ref().map(ToString::to_string),
                at: statement.at.to_string(),
                meaning: statement.meaning.word().to_owned(),
                n: entry.n,
                role: statement.role.word().to_owned(),
                says: says(&statement.meaning),
                signer: statement.signer.to_string(),
            })
        };
        self.entries.iter().filter_map(signed).collect()
    }

    fn halts(&self) -> Vec<Halt> {
        let halt = |halt: &crate::walk::hands::Halt| Halt {
            address: halt.address.as_ref().map(ToString::to_string),
            at: halt.at.to_string(),
            by: id(halt.by.as_ref()),
            n: halt.n,
            reason: halt.reason.clone(),
            resumed: halt.resumed.as_ref().map(|(person, at, reason)| Resumed {
                at: at.to_string(),
                by: person.to_string(),
                reason: reason.clone(),
            }),
            safe_state: halt.safe_state.clone(),
            standing: halt.standing.as_ref().map(ToString::to_string),
        };
        self.state.halts.iter().map(halt).collect()
    }

    fn expired(&self) -> Vec<Expired> {
        let title = |token: &crate::ids::TokenId| {
            self.files.flow.tokens.get(token).map_or_else(|| token.spoken(), |t| t.title.clone())
        };
        let expired = self.state.expired.iter();
        expired
            .map(|(n, token, because)| Expired {
                because: because.spoken().to_owned(),
                n: *n,
                title: title(token),
                token: token.to_string(),
            })
            .collect()
    }

    fn stop(&self) -> Option<Stop> {
        if let (Stand::Asked(..), Some(halt)) = (self.state.walk.stand, self.state.halted()) {
            return Some(Stop {
                address: halt.address.as_ref().map_or_else(String::new, ToString::to_string),
                safe_state: halt.safe_state.clone(),
                tell: Vec::new(),
                text: format!("The work was stopped: {}", halt.reason),
            });
        }
        let Stand::Stopped(index) = self.state.walk.stand else { return None };
        let instance = self.files.flow.instance(index);
        let Ask::Stop(stop) = &instance.ask else { return None };
        Some(Stop {
            address: instance.address.to_string(),
            safe_state: stop.safe_state.clone(),
            tell: stop.tell.clone(),
            text: stop.text.clone(),
        })
    }
}

/// An answer as an owner reads it: what was picked in its own words, and figures without how they
/// were judged.
fn headline_text(ask: &Ask, answer: &event::Answer) -> String {
    let seen = |known: &[FindingNote], found: &[Name]| {
        let of = |name: &Name| known.iter().find(|note| note.id == *name);
        let words = |name| of(name).map_or_else(|| name.spoken(), |note| note.see.clone());
        found.iter().map(words).collect::<Vec<_>>().join("; ")
    };
    match (ask, answer) {
        (Ask::Enter { kind: EntryKind::Choice(choices), .. }, event::Answer::Entered(picked)) => {
            let title = choices.iter().find(|(name, _)| name.value.as_str() == picked);
            title.map_or_else(|| picked.clone(), |(_, title)| title.clone())
        }
        (Ask::Look { findings, .. }, event::Answer::Found(found)) => seen(findings, found),
        (Ask::Check { items, .. }, event::Answer::Items(so)) if so.iter().all(|so| *so) => {
            items.join(" ")
        }
        (_, event::Answer::Read { reading, .. } | event::Answer::EnteredFigure(reading)) => {
            reading.spoken()
        }
        (_, event::Answer::WorkedOut(worked)) => match &worked.result {
            Ok(reading) => reading.spoken(),
            Err(why) => format!("could not be worked out: {why}"),
        },
        _ => answer_text(ask, answer),
    }
}

pub(super) fn word(verdict: Verdict) -> String {
    verdict.word().to_owned()
}

/// The verdict that stands in an entry.
fn judged_verdict(entry: &Entry) -> Option<Verdict> {
    entry.event.judged()?.verdict
}

/// What a signature means, in words.
pub(in crate::record) fn says(meaning: &Meaning) -> String {
    match meaning {
        Meaning::Identified => "works from here on".to_owned(),
        Meaning::Performed { from_n, to_n } => {
            format!("carried out their entries from {from_n} to {to_n}")
        }
        Meaning::Decided { verdict, reason } => {
            format!("decides {}: {reason}", verdict.word())
        }
        Meaning::HoldReleased => "releases the hold".to_owned(),
        Meaning::Resumed { reason } => format!("lets the work go on: {reason}"),
        Meaning::Deviated { done: true, reason } => {
            format!("lets the step be done otherwise than written: {reason}")
        }
        Meaning::Deviated { done: false, reason } => {
            format!("lets the step be left out: {reason}")
        }
        Meaning::Disposed(said) => {
            let lot = said.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
            format!("states what was done: {}{lot}: {}", said.disposition.spoken(), said.reason)
        }
        Meaning::Conceded { verdict, reason } => {
            format!("puts {} in the place of what the rules say: {reason}", verdict.word())
        }
    }
}

pub(super) fn figure(reading: &Reading) -> Figure {
    Figure {
        text: reading.text.clone(),
        unit: reading.unit.word().to_owned(),
        value: reading.value.render(reading.unit),
    }
}

pub(super) fn instrument_of(instrument: &event::InstrumentSnapshot) -> Instrument {
    Instrument {
        calibration_due: instrument.calibration_due.to_string(),
        certificate: instrument.certificate.clone(),
        certificate_sha256: instrument.certificate_sha256.clone(),
        id: instrument.id.clone(),
        k: instrument.k.clone(),
        kind: instrument.kind.to_string(),
        resolution: instrument.resolution.clone(),
        uncertainty: instrument.uncertainty.clone(),
    }
}

impl Writer<'_> {
    fn zero_checks(&self) -> Vec<ZeroCheck> {
        let checks = self.state.zero_checks.iter();
        checks
            .map(|check| ZeroCheck {
                at: check.at.to_string(),
                by: id(check.by.as_ref()),
                instrument: instrument_of(&check.instrument),
                n: check.n,
                reading: figure(&check.reading),
                so: check.so,
            })
            .collect()
    }

    /// The answer with everything in it; what was worked out with its working.
    fn answer(&self, ask: &Ask, given: &event::Answer) -> Answer {
        let (Ask::WorkOut(note), event::Answer::WorkedOut(worked)) = (ask, given) else {
            return answer(ask, given);
        };
        let working = self.state.walk.working(&self.files.flow, self.state, note);
        let lines = working.map_or_else(|_| Vec::new(), |working| paper(&working.text()));
        worked_out(worked, lines)
    }
}

/// The lines of a working, without the empty ones that part its paragraphs.
fn paper(text: &str) -> Vec<String> {
    text.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect()
}

fn worked_out(worked: &event::WorkedOut, working: Vec<String>) -> Answer {
    Answer::WorkedOut {
        calculation: worked.calculation.clone(),
        given: worked.given.clone(),
        refused: worked.result.as_ref().err().cloned(),
        result: worked.result.as_ref().ok().map(figure),
        working,
    }
}

fn answer(ask: &Ask, answer: &event::Answer) -> Answer {
    match answer {
        event::Answer::Done => Answer::Done,
        event::Answer::Released => Answer::Released,
        event::Answer::Waited(waited) => Answer::Waited {
            begun: waited.begun.to_string(),
            doubtful: waited.doubtful,
            elapsed_s: waited.elapsed_s,
            ended: waited.ended.to_string(),
        },
        event::Answer::Stopped => Answer::Stopped,
        event::Answer::Items(items) => {
            let texts = ask.items().unwrap_or_default();
            let lines = items.iter().zip(texts);
            Answer::Items(lines.map(|(so, text)| Item { so: *so, text: text.clone() }).collect())
        }
        event::Answer::Found(found) => {
            let known = match ask {
                Ask::Look { findings, .. } => findings.as_slice(),
                _ => &[],
            };
            let finding = |name: &crate::ids::Name| {
                let note = known.iter().find(|f| f.id == *name);
                Finding {
                    id: name.to_string(),
                    likely_cause: note.and_then(|f| f.likely_cause.clone()),
                    see: note.map_or_else(String::new, |f| f.see.clone()),
                }
            };
            Answer::Found(found.iter().map(finding).collect())
        }
        event::Answer::Read { reading, instrument, several: taken } => Answer::Read {
            instrument: instrument_of(instrument),
            reading: figure(reading),
            several: taken.as_ref().and_then(|taken| several(ask, taken)),
        },
        event::Answer::WorkedOut(worked) => worked_out(worked, Vec::new()),
        event::Answer::CouldNotMeasure { reason } => {
            Answer::CouldNotMeasure { reason: reason.clone() }
        }
        event::Answer::Built(laid) => Answer::Built(layers(ask, laid)),
        event::Answer::Tightened(rounds) => {
            Answer::Tightened(rounds.iter().map(fasteners::round).collect())
        }
        event::Answer::Entered(text) => Answer::Entered(text.clone()),
        event::Answer::EnteredFigure(reading) => Answer::EnteredFigure(figure(reading)),
        event::Answer::Attached(file) => Answer::Attached(evidence(file)),
        event::Answer::NotAttached { reason } => Answer::NotAttached { reason: reason.clone() },
        event::Answer::Deviated { done, reason } => {
            Answer::Deviated { done: *done, reason: reason.clone() }
        }
        event::Answer::Decided { verdict, reason } => {
            Answer::Decided { reason: reason.clone(), verdict: word(*verdict) }
        }
    }
}

fn several(ask: &Ask, taken: &event::Several) -> Option<Several> {
    let Ask::Measure(note) = ask else { return None };
    let asked = note.several.as_ref()?;
    Some(Several {
        points: asked.points.iter().map(ToString::to_string).collect(),
        reason: taken.reason.clone(),
        rule: asked.repeats.rule.word().to_owned(),
        taken: taken.taken.iter().map(figure).collect(),
    })
}

fn evidence(file: &event::Evidence) -> Evidence {
    Evidence { len_bytes: file.len_bytes, name: file.name.clone(), sha256: file.sha256.to_string() }
}

fn layers(ask: &Ask, laid: &[event::Laid]) -> Vec<Layer> {
    let known = match ask {
        Ask::Build { layers, .. } => layers.as_slice(),
        _ => &[],
    };
    let layer = |laid: &event::Laid| {
        let note = known.iter().find(|note| note.id == laid.layer);
        Layer {
            layer: laid.layer.to_string(),
            lies: note.and_then(|note| note.lies.clone()),
            lot: laid.lot.clone(),
            part: note.map_or_else(String::new, |note| note.part.to_string()),
            so: laid.so,
            title: note.map_or_else(String::new, |note| note.title.clone()),
        }
    };
    laid.iter().map(layer).collect()
}
