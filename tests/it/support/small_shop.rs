//! A small shop with a small procedure, keys and a clock: enough for a whole job in few entries.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::rc::Rc;

use chrono::TimeDelta;
use witnessmark::demo::HeldKey;
use witnessmark::ids::{EquipmentId, JobId, Moment, PersonId, ProcedureId, Sha256};
use witnessmark::ports::{Clock, Disk, Overwrite};
use witnessmark::procedure::model::Verdict;
use witnessmark::record::completion::{encode, is_in_manifest};
use witnessmark::record::{FolderBytes, KeyPair, Namespace, PublicKey, Release, signed_of};
use witnessmark::session::Session;
use witnessmark::session::open::OpenShop;
use witnessmark::session::shop::{With, approve, set_up};
use witnessmark::store::{JobFolder, ShopFolder, load_folder};
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::accept::snapshot;
use witnessmark::walk::disposition::{self, Disposition, Said};
use witnessmark::walk::event::Signed;
use witnessmark::walk::{Address, Answer, Command, Entry, Event, replay};
use witnessmark::{journal, record};

use super::disk::FakeDisk;

const EQUIPMENT: &str = r#"format: "1.0"
equipment: test_pump
title: Test pump
revision: 2
effective: 2026-01-01
revisions:
  - {revision: 2, date: 2026-01-01, by: a.writer, why: Springs are measured.}
positions: {cylinder: [1, 2]}
settings: {elastomer: [epdm, fkm]}
fit_outs:
  A: {title: EPDM, elastomer: epdm}
  B: {title: FKM, elastomer: fkm}
parts:
  spring: {title: Valve spring, number: "0077", per: cylinder}
  gasket: {title: Cover gasket, always_new: true}
limits:
  spring:
    free_length:
      at_least: "44.6 mm"
      plausible: {from: "30 mm", to: "60 mm"}
      basis: Maker's sheet 7
constants: {}
"#;

const PROCEDURE: &str = r#"format: "1.0"
procedure: small
title: Small service
equipment: test_pump
revision: 1
effective: 2026-01-01
revisions:
  - {revision: 1, date: 2026-01-01, by: a.writer, why: First issue.}
performed_by: apprentice
signed_by: mechanic
signal_words: ansi-z535
steps:
  - id: plate
    enter: Enter the letter on the plate.
    kind: fit_out
  - id: cover
    warning:
      hazard: Springs under load
      consequence: They hit you.
      avoid: Hold the cover down.
    do: Take off the cover.
  - id: springs
    section: Springs
    each: cylinder
    steps:
      - id: free_length
        measure: Measure the free length.
        with: caliper
        unit: mm
        limit: spring.free_length
        as: found
        below: {verdict: replace, parts: [spring], say: Renew the spring.}
        could_not_measure: {verdict: refer, say: Nobody can say.}
  - id: seat
    look: Look at the seat.
    findings:
      no_fault: {see: Clean and bright, verdict: accept}
      scored: {see: A groove across, verdict: refer, say: A mechanic looks at it.}
  - id: rinse
    when: elastomer == fkm
    do: Rinse with solvent.
  - id: closed
    check: Check before closing.
    items: [Nothing lies inside., The gasket is new.]
    fits: [gasket]
  - id: ready
    hold: The pump may go back.
    by: mechanic
"#;

/// A clock that moves on by a second each time it is read.
#[derive(Debug)]
pub(crate) struct Ticking(Cell<i64>);

impl Clock for Ticking {
    fn now(&self) -> Moment {
        self.0.set(self.0.get() + 1);
        let start = Moment::parse("2026-03-02T08:00:00.000+01:00").unwrap();
        Moment::new(start.time() + TimeDelta::seconds(self.0.get()))
    }
}

impl Ticking {
    /// Moves the clock.
    pub(crate) fn turn(&self, seconds: i64) {
        self.0.set(self.0.get() + seconds);
    }
}

pub(crate) const PEOPLE: [&str; 4] = ["i.varga", "t.reiter", "o.nkemelu", "a.writer"];

pub(crate) fn person(id: &str) -> PersonId {
    PersonId::new(id).unwrap()
}

pub(crate) fn key(id: &str) -> KeyPair {
    KeyPair::from_seed(Sha256::of(id.as_bytes()).to_string().as_bytes()[..32].try_into().unwrap())
}

/// The key of a person, or of the shop as `shop`.
pub(crate) fn signer(id: &str) -> HeldKey {
    HeldKey(key(id))
}

/// The shop key's public half.
pub(crate) fn trust() -> PublicKey {
    key("shop").public()
}

fn shop_yaml() -> String {
    let roles = ["apprentice", "mechanic", "mechanic", "author"];
    let people: Vec<String> = PEOPLE
        .iter()
        .zip(roles)
        .map(|(id, role)| {
            format!(
                "  - {{id: {id}, name: \"{}\", roles: [{role}], key: \"{}\", qualified_from: \
                 2025-01-01, qualified_until: 2026-12-31}}\n",
                id.to_uppercase(),
                key(id).public()
            )
        })
        .collect();
    let instrument = |id: &str, due: &str| {
        format!(
            "  - {{id: {id}, kind: caliper, title: Caliper, range: {{from: \"0 mm\", to: \"150 \
             mm\"}}, resolution: \"0.01 mm\", uncertainty: \"0.03 mm\", k: \"2\", \
             calibration_due: {due}, certificate: \"K {id}\"}}\n"
        )
    };
    format!(
        "format: \"1.0\"\nshop: test_shop\ntitle: Test shop\nrevision: 3\nkind: record\n\
         people:\n{}instruments:\n{}{}machines:\n  - {{tag: P-1, equipment: test_pump, \
         serial: \"0012\", fit_out: A, title: The pump}}\n",
        people.concat(),
        instrument("C-03", "2027-01-01"),
        instrument("C-09", "2026-01-31"),
    )
}

/// The shop on a fake disk.
pub(crate) struct Bench {
    pub(crate) disk: FakeDisk,
    pub(crate) clock: Rc<Ticking>,
    pub(crate) shop: OpenShop,
}

/// What the springs measure and the seat looks like.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Story {
    pub(crate) lengths: [&'static str; 2],
    pub(crate) seat: &'static str,
    pub(crate) is_corrected: bool,
}

/// One spring is short, the seat is scored and accepted, and one reading was corrected.
pub(crate) const STORY: Story =
    Story { lengths: ["43.90", "45.1"], seat: "scored", is_corrected: true };

impl Bench {
    pub(crate) fn new() -> Self {
        Self::of(PROCEDURE, EQUIPMENT)
    }

    /// The shop, with an equipment file for serial numbers in a range.
    pub(crate) fn with_serials(from: &str, to: &str) -> Self {
        let plate = format!("name_plate: {{serials: {{from: \"{from}\", to: \"{to}\"}}}}\nparts:");
        Self::of(PROCEDURE, &EQUIPMENT.replace("parts:", &plate))
    }

    /// The shop with these steps in the place of its own.
    pub(crate) fn with_steps(steps: &str) -> Self {
        let head = PROCEDURE.split_once("steps:\n").map_or("", |(head, _)| head);
        let head = head.replacen("format: \"1.0\"", "format: \"1.1\"", 1);
        Self::of(&format!("{head}steps:\n{steps}"), EQUIPMENT)
    }

    fn of(procedure: &str, equipment: &str) -> Self {
        let disk = FakeDisk::new("/shop");
        let clock = Rc::new(Ticking(Cell::new(0)));
        let port = disk.port();
        let ticking: Rc<dyn Clock> = Rc::clone(&clock) as Rc<dyn Clock>;
        let folder = ShopFolder::at("/shop");
        folder.create(port.as_ref()).unwrap();
        let write = |path: std::path::PathBuf, text: &str| {
            port.write_new(&path, text.as_bytes(), Overwrite::Never).unwrap();
        };
        write(folder.procedures().join("small.yaml"), procedure);
        write(folder.equipment().join("test_pump.yaml"), equipment);
        let shop_key = signer("shop");
        set_up(&port, &folder, &shop_yaml(), (&trust(), &shop_key))
            .unwrap_or_else(|e| panic!("{e}"));
        let ids = (ProcedureId::new("small").unwrap(), EquipmentId::new("test_pump").unwrap());
        let approver = person("o.nkemelu");
        let with = With { person: &approver, key: &signer("o.nkemelu") };
        approve(&port, &ticking, &folder, (&ids.0, &ids.1), with, &shop_key)
            .unwrap_or_else(|e| panic!("{e}"));
        let shop = OpenShop::load(&port, &ticking, folder).unwrap_or_else(|e| panic!("{e}"));
        Self { disk, clock, shop }
    }

    /// A job with everything answered and the releaser at work.
    pub(crate) fn job(&self, story: Story) -> Session {
        let mut session = self
            .shop
            .new_job(&ProcedureId::new("small").unwrap(), "P-1")
            .unwrap_or_else(|e| panic!("{e}"));
        session.identify(&person("i.varga"), &signer("i.varga")).unwrap();
        answer(&mut session, "plate", Answer::Entered("A".to_owned()));
        let cover = address("cover");
        submit(&mut session, Command::AcknowledgeSafety { address: cover });
        answer(&mut session, "cover", Answer::Done);
        let first = if story.is_corrected { "44.70" } else { story.lengths[0] };
        let read = read(&session, first, "C-03");
        answer(&mut session, "springs[cylinder=1]/free_length", read);
        let read = self::read(&session, story.lengths[1], "C-03");
        answer(&mut session, "springs[cylinder=2]/free_length", read);
        if story.is_corrected {
            let command = Command::Correct {
                address: address("springs[cylinder=1]/free_length"),
                answer: self::read(&session, story.lengths[0], "C-03"),
                reason: "read the wrong line".to_owned(),
                signed: None,
            };
            submit(&mut session, command);
        }
        let text = "smells of oil & <rust>".to_owned();
        submit(&mut session, Command::AddNote { address: None, text });
        let found = witnessmark::ids::Name::new(story.seat).unwrap();
        answer(&mut session, "seat", Answer::Found(vec![found]));
        if story.seat == "scored" {
            let decided = (Verdict::Accept, "the groove is old and shallow");
            let by = person("t.reiter");
            session
                .decide(&address("seat/decision"), decided, &by, &signer("t.reiter"))
                .unwrap_or_else(|e| panic!("{e}"));
        }
        for item in [0, 1] {
            let command = Command::CheckItem { address: address("closed"), item, so: true };
            submit(&mut session, command);
        }
        session.sign_performed(&person("i.varga"), &signer("i.varga")).unwrap();
        session
            .release_hold(&address("ready"), &person("t.reiter"), &signer("t.reiter"))
            .unwrap_or_else(|e| panic!("{e}"));
        dispose(&mut session, "t.reiter");
        session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
        session
    }

    /// A released job's folder.
    pub(crate) fn released(&self, story: Story) -> FolderBytes {
        self.release(&mut self.job(story))
    }

    /// The folder of a job that is ready, once the mechanic at work has released it.
    pub(crate) fn release(&self, session: &mut Session) -> FolderBytes {
        let shown = session.exceptions();
        session
            .release(&person("t.reiter"), &signer("t.reiter"), &shown)
            .unwrap_or_else(|e| panic!("{e}"));
        self.load(session.job())
    }

    pub(crate) fn folder(&self, job: &JobId) -> JobFolder {
        self.shop.folder.job(job)
    }

    pub(crate) fn load(&self, job: &JobId) -> FolderBytes {
        load_folder(self.disk.port().as_ref(), &self.folder(job)).unwrap()
    }

    /// The shop as another process finds it.
    pub(crate) fn reopened(&self) -> OpenShop {
        let port: Rc<dyn Disk> = self.disk.port();
        let clock: Rc<dyn Clock> = Rc::clone(&self.clock) as Rc<dyn Clock>;
        OpenShop::load(&port, &clock, self.shop.folder.clone()).unwrap_or_else(|e| panic!("{e}"))
    }
}

/// A mechanic signs what was done about whatever failed and is still open.
pub(crate) fn dispose(session: &mut Session, who: &str) {
    for failed in disposition::open(session.files(), session.state()) {
        let at = session.files().flow.instance(failed.index).address.clone();
        let said = Said::parse(Disposition::Replaced, "lot L-77: a new spring from the store");
        session.dispose(&at, &said, &person(who), &signer(who)).unwrap_or_else(|e| panic!("{e}"));
    }
}

pub(crate) fn address(text: &str) -> Address {
    Address::parse(text).unwrap()
}

pub(crate) fn submit(session: &mut Session, command: Command) {
    session.submit(command).unwrap_or_else(|e| panic!("{e}"));
}

pub(crate) fn answer(session: &mut Session, at: &str, answer: Answer) {
    submit(session, Command::Answer { address: address(at), answer, signed: None });
}

pub(crate) fn read(session: &Session, text: &str, instrument: &str) -> Answer {
    let shop = &session.files().shop;
    let listed = shop.instruments.iter().find(|i| i.id == instrument).unwrap();
    let reading = Reading::parse(text, Unit::Millimetre).unwrap();
    Answer::Read { reading, instrument: snapshot(listed), several: None }
}

/// A forger with every person's key: changes what is entered, then makes chain, signatures, record and
/// sums right again, and keeps what each entry says of itself.
pub(crate) fn forge(
    folder: &FolderBytes,
    change: impl FnOnce(&mut Vec<Entry>),
    change_record: impl FnOnce(String) -> String,
) -> FolderBytes {
    Forger::with_every_key().forge(folder, change, change_record)
}

/// Somebody who makes chain, record and sums right again, and signs with the keys that they have.
pub(crate) struct Forger {
    /// Whose keys they have.
    pub(crate) has: fn(&str) -> bool,
    /// True when statements that they cannot sign are made to fit all the same.
    pub(crate) fits_statements: bool,
    /// Who releases, where it is another than before.
    pub(crate) releaser: Option<&'static str>,
    /// By how much every time is moved.
    pub(crate) later: TimeDelta,
}

impl Forger {
    pub(crate) fn with_every_key() -> Self {
        Self { has: |_| true, fits_statements: true, releaser: None, later: TimeDelta::zero() }
    }

    fn moved(&self, at: Moment) -> Moment {
        Moment::new(at.time() + self.later)
    }

    pub(crate) fn forge(
        &self,
        folder: &FolderBytes,
        change: impl FnOnce(&mut Vec<Entry>),
        change_record: impl FnOnce(String) -> String,
    ) -> FolderBytes {
        let scan = journal::scan(&folder.files["journal.jsonl"]).unwrap();
        let mut entries: Vec<Entry> = scan.entries().cloned().collect();
        let last = entries.pop().unwrap();
        let by = self.releaser.map_or_else(|| last.by.clone().unwrap(), person);
        let released_at = self.moved(last.at);
        change(&mut entries);
        let mut lines = Vec::new();
        let mut head = Sha256::ZERO;
        for (n, entry) in (0..).zip(&mut entries) {
            entry.n = n;
            entry.at = self.moved(entry.at);
            self.sign_again(entry, head);
            let line = journal::encode(entry, head);
            head = Sha256::of(line.as_bytes());
            lines.push(line);
        }
        let bytes: BTreeMap<String, Vec<u8>> = folder
            .files
            .iter()
            .filter_map(|(path, bytes)| {
                Some((path.strip_prefix("files/")?.to_owned(), bytes.clone()))
            })
            .collect();
        let Event::JobOpened(opened) = &entries[0].event else { panic!("no job") };
        let files = record::files::load(&bytes, &opened.procedure, &opened.equipment)
            .unwrap_or_else(|e| panic!("{e}"))
            .files;
        let release = Release {
            job: opened.job.clone(),
            head_n: entries.len() as u64 - 1,
            head,
            signer: by.clone(),
            role: files.flow.signed_by,
            at: released_at,
        };
        let state = replay(&files.flow, &entries).unwrap();
        let manifest: BTreeMap<String, Sha256> = folder
            .files
            .iter()
            .filter(|(path, _)| is_in_manifest(path))
            .map(|(path, bytes)| (path.clone(), Sha256::of(bytes)))
            .collect();
        let text = change_record(encode(&files, &state, &entries, &manifest, &release));
        let signature = if (self.has)(by.as_str()) {
            key(by.as_str()).sign(Namespace::Release, text.as_bytes()).into_bytes()
        } else {
            folder.files["record.json.sig"].clone()
        };
        let event = Event::Released {
            record: Sha256::of(text.as_bytes()),
            signature: Sha256::of(&signature),
        };
        let released =
            Entry { n: entries.len() as u64, at: released_at, by: Some(by), late: None, event };
        lines.push(journal::encode(&released, head));
        let mut forged = folder.clone();
        let photos = folder
            .files
            .iter()
            .filter_map(|(path, bytes)| Some((path.strip_prefix("evidence/")?.to_owned(), bytes)))
            .map(|(hash, bytes)| (hash, bytes.clone()))
            .collect();
        let report = record::report::render_with(text.as_bytes(), &photos).unwrap_or_default();
        forged.files.insert("journal.jsonl".into(), (lines.join("\n") + "\n").into_bytes());
        forged.files.insert("record.json".into(), text.into_bytes());
        forged.files.insert("record.json.sig".into(), signature);
        forged.files.insert("report.html".into(), report.into_bytes());
        sum_again(&mut forged);
        forged
    }

    fn sign_again(&self, entry: &mut Entry, head: Sha256) {
        let n = entry.n;
        let Some(Signed { statement, signature }) = signed_mut(&mut entry.event) else { return };
        let has = (self.has)(statement.signer.as_str());
        if has || self.fits_statements {
            statement.head_n = n - 1;
            statement.head = head;
            statement.at = self.moved(statement.at);
        }
        if has {
            let namespace = Namespace::of(&statement.meaning);
            let bytes = journal::statement_bytes(statement);
            *signature = key(statement.signer.as_str()).sign(namespace, &bytes);
        }
    }
}

/// The statement that an event carries, with its signature.
pub(crate) fn signed_mut(event: &mut Event) -> Option<&mut Signed> {
    let has_one = signed_of(event).is_some();
    let (Event::Identified(signed)
    | Event::PerformedSigned(signed)
    | Event::Conceded { signed, .. }
    | Event::Disposed { signed, .. }
    | Event::Answered { signed: Some(signed), .. }
    | Event::Corrected { signed: Some(signed), .. }) = event
    else {
        assert!(!has_one, "signed_of knows another event");
        return None;
    };
    Some(signed)
}

/// Writes `SHA256SUMS` anew.
pub(crate) fn sum_again(folder: &mut FolderBytes) {
    folder.files.remove("SHA256SUMS");
    let line = |(path, bytes): (&String, &Vec<u8>)| format!("{}  {path}\n", Sha256::of(bytes));
    let sums: Vec<String> = folder.files.iter().map(line).collect();
    folder.files.insert("SHA256SUMS".into(), sums.concat().into_bytes());
}
