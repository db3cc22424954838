//! Departures with a mechanic's signature, witness points, photos and files.

use std::path::Path;

use super::{Halt, Prompt, Walker};
use crate::ids::Role;
use crate::shown::outline::{OutlineRow, said_of};
use crate::shown::{Question, Shown, decision_words, spoken_at};
use crate::walk::disposition::Disposition;
use crate::walk::{Address, Answer, Command};

impl Walker<'_> {
    /// A witness point: somebody is told before the step is done.
    pub(super) fn tell_witness(
        &mut self,
        shown: &Shown,
        question: &Question,
        role: Role,
    ) -> Result<(), Halt> {
        self.talk.say(&format!(
            "WITNESS POINT. Tell a {} what you are about to do: {}",
            role.word(),
            question.ask.text()
        ))?;
        let mut people = shown.people_for(role);
        people.retain(|p| Some(&p.id) != shown.who.as_ref());
        let who = self.person("Whom did you tell", &people)?;
        self.submit(Command::TellWitness { address: question.address.clone(), who: who.clone() })?;
        self.talk.say(&format!("Saved: {} was told.", shown.name(&who)))?;
        Ok(())
    }

    /// The file that a step asks for.
    pub(super) fn attach(&mut self, may_lack: bool) -> Result<Answer, Halt> {
        let text = if may_lack {
            "The path of the photo or file; `nothing` where there is none"
        } else {
            "The path of the photo or file"
        };
        let path = self.prompt(Prompt::FreeText, text)?;
        if path == "nothing" && may_lack {
            let reason = self.reason("Why is there none")?;
            self.echoed(&format!("Nothing is attached: {reason}"))?;
            return Ok(Answer::NotAttached { reason });
        }
        match self.session.keep_file(Path::new(&path)) {
            Ok(file) => {
                self.echoed(&format!("Attach {}, {} bytes", file.name, file.len_bytes))?;
                Ok(Answer::Attached(file))
            }
            Err(error) => {
                self.talk.say(&format!("Not attached: {error}."))?;
                Err(Halt::Again)
            }
        }
    }

    /// A photo or file beside the step that is asked.
    pub(super) fn file(&mut self, path: &str) -> Result<(), Halt> {
        if path.is_empty() {
            self.talk.say("Write `file` and the path of the photo or file.")?;
            return Ok(());
        }
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let address = shown.question().map(|question| question.address.clone());
        match self.session.keep_file(Path::new(path)) {
            Ok(evidence) => {
                let said = format!("Saved: {} lies with the job.", evidence.name);
                self.submit(Command::AddEvidence { address, evidence })?;
                self.talk.say(&said)?;
            }
            Err(error) => self.talk.say(&format!("Not attached: {error}."))?,
        }
        Ok(())
    }

    /// The photos and files of the job, each with its path.
    pub(super) fn attached(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        if shown.files.is_empty() {
            self.talk.say("No photo or file lies with this job yet.")?;
        }
        for file in &shown.files {
            let at = file.address.as_ref();
            let at = at.map_or_else(|| "the job".to_owned(), ToString::to_string);
            let by = shown.name_or_nobody(file.by.as_ref());
            let when = spoken_at(file.at, shown.now);
            let name = &file.evidence.name;
            let path = self.session.folder().evidence().join(file.evidence.sha256.to_string());
            self.talk.say(&format!("{name}, at {at}, by {by}, {when}: {}", path.display()))?;
        }
        Ok(())
    }

    /// What is signed about, in words: the step with its position, what was found, who.
    pub(super) fn in_words(&mut self, said: &[(&'static str, String)]) -> Result<(), Halt> {
        for (label, text) in said {
            let label = super::sentence(label);
            self.talk.say(&format!("{label}: {}.", text.trim_end_matches('.')))?;
        }
        Ok(())
    }

    /// A mechanic lets the step that is asked be left out, or done otherwise.
    pub(super) fn deviate(&mut self, done: bool) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let Some(question) = shown.question() else {
            self.talk.say("No step is asked.")?;
            return Ok(());
        };
        if let Some(why) = question.no_deviation {
            self.talk.say(&format!("This step stays as written: {why}."))?;
            return Ok(());
        }
        let text = if done { "What is done instead, and why" } else { "Why is it left out" };
        let reason = self.reason(text)?;
        let person = self.person("Which mechanic allows it", &shown.people_for(Role::Mechanic))?;
        let what = if done { "be done otherwise" } else { "be left out" };
        self.echoed(&format!("{} lets this step {what}: {reason}", shown.name(&person)))?;
        let signer = self.signer(&person, "to sign for it")?;
        let address = question.address.clone();
        let result = self.session.deviate(&address, (done, &reason), &person, signer.as_ref());
        self.saved(result)?;
        self.talk.say("Saved and signed. It stands on the list to look at before signing.")?;
        Ok(())
    }

    /// A mechanic puts another decision in the place of that of the rules.
    pub(super) fn concede(&mut self, text: &str) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let row = shown
            .outline
            .iter()
            .find(|row| row.address.as_ref().is_some_and(|at| at.to_string() == text));
        let Some((address, row)) = row.and_then(|row| Some((row.address.clone()?, row))) else {
            self.talk.say("Write `concede` and the address of a done step.")?;
            return Ok(());
        };
        if row.substitutes.is_empty() {
            self.talk.say(
                "Nothing else can be decided there: the procedure does not allow it, or a mechanic \
                 decides in a step of its own.",
            )?;
            return Ok(());
        }
        self.in_words(&shown.step_in_words(&address))?;
        for (n, verdict) in row.substitutes.iter().enumerate() {
            self.talk.say(&format!("{}. {}", n + 1, decision_words(*verdict)))?;
        }
        let reply = self.prompt(Prompt::Short, "The number of the decision")?;
        let picked =
            reply.parse::<usize>().ok().and_then(|n| row.substitutes.get(n.checked_sub(1)?));
        let Some(verdict) = picked.copied() else { return self.not_understood(&reply) };
        let reason = self.reason("Why is it decided so")?;
        self.sign_concession(&shown, &address, (verdict, &reason))
    }

    /// A mechanic says what was done about a failed result.
    pub(super) fn dispose(&mut self, text: &str) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let named = |row: &&OutlineRow| {
            row.failed && row.address.as_ref().is_some_and(|at| at.to_string() == text)
        };
        let row = shown.outline.iter().find(named);
        let Some((address, _)) = row.and_then(|row| Some((row.address.clone()?, row))) else {
            self.talk.say(
                "Write `dispose` and the address of a failed result of which nothing says what was \
                 done.",
            )?;
            return Ok(());
        };
        self.in_words(&shown.step_in_words(&address))?;
        for (n, disposition) in Disposition::ALL.iter().enumerate() {
            self.talk.say(&format!("{}. {}", n + 1, disposition.spoken()))?;
        }
        let reply = self.prompt(Prompt::Short, "The number of what was done")?;
        let picked =
            reply.parse::<usize>().ok().and_then(|n| Disposition::ALL.get(n.checked_sub(1)?));
        let Some(disposition) = picked.copied() else { return self.not_understood(&reply) };
        let prompt = "What was done and why; `lot L-77: TEXT` where the new part has a lot";
        let said = match said_of(disposition, &self.prompt(Prompt::FreeText, prompt)?) {
            Ok(said) => said,
            Err(why) => {
                self.talk.say(&format!("Not understood: {why}. Nothing was saved."))?;
                return Err(Halt::Again);
            }
        };
        let person =
            self.person("Which mechanic signs for it", &shown.people_for(Role::Mechanic))?;
        let lot = said.lot.as_ref().map_or_else(String::new, |lot| format!(", lot {lot}"));
        let what = disposition.spoken();
        self.echoed(&format!("{} states: {what}{lot}: {}", shown.name(&person), said.reason))?;
        let signer = self.signer(&person, "to sign for it")?;
        let result = self.session.dispose(&address, &said, &person, signer.as_ref());
        self.saved(result)?;
        self.talk.say("Saved and signed. It stands on the list to look at before signing.")?;
        Ok(())
    }

    fn sign_concession(
        &mut self,
        shown: &Shown,
        address: &Address,
        (verdict, reason): (crate::procedure::model::Verdict, &str),
    ) -> Result<(), Halt> {
        let person = self.person("Which mechanic decides", &shown.people_for(Role::Mechanic))?;
        let words = decision_words(verdict);
        self.echoed(&format!("{} decides: {words}, because {reason}", shown.name(&person)))?;
        let signer = self.signer(&person, "to sign the decision")?;
        let result = self.session.concede(address, (verdict, reason), &person, signer.as_ref());
        self.saved(result)?;
        self.talk.say(&format!("Saved and signed: {words}."))?;
        Ok(())
    }
}
