//! Honest jobs at random: every way through the small procedure, worked as people do.

use witnessmark::ids::Name;
use witnessmark::procedure::model::Verdict;
use witnessmark::record::FolderBytes;
use witnessmark::session::Session;
use witnessmark::walk::{Answer, Command};

use crate::support::pure::Choices;
use crate::support::small_shop::{Bench, address, answer, dispose, person, read, signer, submit};

const LENGTHS: [&str; 8] = ["43.90", "44.59", "44.6", "44.60", "45.0", "45,1", "59.9", "1.77 in"];

/// A released job.
pub(crate) fn released(seed: u64) -> FolderBytes {
    let mut choices = Choices::new(seed.wrapping_add(77));
    let with_photo = choices.one_in(3);
    job(&mut choices, with_photo)
}

/// A released job with two photos.
pub(crate) fn with_photo() -> FolderBytes {
    job(&mut Choices::new(5), true)
}

fn job(choices: &mut Choices, with_photo: bool) -> FolderBytes {
    let bench = Bench::new();
    let id = witnessmark::ids::ProcedureId::new("small").unwrap();
    let mut session = bench.shop.new_job(&id, "P-1").unwrap_or_else(|e| panic!("{e}"));
    let performer = "i.varga";
    session.identify(&person(performer), &signer(performer)).unwrap();
    let fit_out = if choices.one_in(3) { "B" } else { "A" };
    answer(&mut session, "plate", Answer::Entered(fit_out.to_owned()));
    submit(&mut session, Command::AcknowledgeSafety { address: address("cover") });
    answer(&mut session, "cover", Answer::Done);
    let mut n_photos = 0u8;
    for at in ["springs[cylinder=1]/free_length", "springs[cylinder=2]/free_length"] {
        measure(&bench, &mut session, at, choices);
        if with_photo || choices.one_in(5) {
            n_photos += 1;
            let photo = [b"\x89PNG\r\n\x1a\n".as_slice(), &[n_photos; 40]].concat();
            let evidence = session.keep(&format!("spring {n_photos}.png"), &photo).unwrap();
            let address = choices.one_in(2).then(|| address(at));
            submit(&mut session, Command::AddEvidence { address, evidence });
        }
    }
    look(&mut session, choices);
    if fit_out == "B" {
        answer(&mut session, "rinse", Answer::Done);
    }
    for item in [0, 1] {
        submit(&mut session, Command::CheckItem { address: address("closed"), item, so: true });
    }
    session.sign_performed(&person(performer), &signer(performer)).unwrap();
    let holder = if choices.one_in(2) { "t.reiter" } else { "o.nkemelu" };
    session
        .release_hold(&address("ready"), &person(holder), &signer(holder))
        .unwrap_or_else(|e| panic!("{e}"));
    dispose(&mut session, "o.nkemelu");
    session.identify(&person("t.reiter"), &signer("t.reiter")).unwrap();
    bench.release(&mut session)
}

fn measure(bench: &Bench, session: &mut Session, at: &str, choices: &mut Choices) {
    let pick = |choices: &mut Choices| LENGTHS[choices.below(LENGTHS.len())];
    let mut given = if choices.one_in(8) {
        Answer::CouldNotMeasure { reason: "rust holds it".to_owned() }
    } else {
        read(session, pick(choices), "C-03")
    };
    answer(session, at, given.clone());
    if choices.one_in(3) {
        bench.clock.turn(90);
        let before = given.clone();
        while given == before {
            given = read(session, pick(choices), "C-03");
        }
        submit(
            session,
            Command::Correct {
                address: address(at),
                answer: given.clone(),
                reason: "read the wrong line".to_owned(),
                signed: None,
            },
        );
    }
    if matches!(given, Answer::CouldNotMeasure { .. }) {
        let decided = (Verdict::Accept, "it felt firm");
        let at = address(&format!("{at}/decision"));
        session
            .decide(&at, decided, &person("o.nkemelu"), &signer("o.nkemelu"))
            .unwrap_or_else(|e| panic!("{e}"));
    }
    if choices.one_in(3) {
        let text = "smells of oil & <rust>".to_owned();
        submit(session, Command::AddNote { address: Some(address(at)), text });
    }
}

fn look(session: &mut Session, choices: &mut Choices) {
    let is_scored = choices.one_in(2);
    let found = Name::new(if is_scored { "scored" } else { "no_fault" }).unwrap();
    answer(session, "seat", Answer::Found(vec![found]));
    if is_scored {
        let decided = (Verdict::Accept, "the groove is old and shallow");
        session
            .decide(&address("seat/decision"), decided, &person("t.reiter"), &signer("t.reiter"))
            .unwrap_or_else(|e| panic!("{e}"));
    }
}
