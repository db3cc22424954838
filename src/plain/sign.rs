//! Who is at work, decisions and holds: everything that is signed.

use zeroize::Zeroizing;

use super::{Halt, Prompt, Walker};
use crate::ids::PersonId;
use crate::ports::Signer;
use crate::procedure::model::Verdict;
use crate::shown::{Colleague, Question, Shown, decision_words};
use crate::walk::event::Meaning;
use crate::walk::flow::Ask;
use crate::walk::{Answer, Command};

impl Walker<'_> {
    /// Somebody proves who they are and works from here on.
    pub(super) fn identify(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        for barred in shown.people.iter().filter_map(|p| p.barred.as_ref()) {
            self.talk.say(&format!("Not today: {barred}."))?;
        }
        let person = self.person("Who is at work", &shown.workers())?;
        let signer = self.signer(&person, "to show that it is you")?;
        let result = self.session.identify(&person, signer.as_ref());
        self.saved(result)?;
        self.talk.say(&format!("{} is at work from here on.", shown.name(&person)))?;
        Ok(())
    }

    /// One of `people`, by number or id.
    pub(super) fn person(&mut self, text: &str, people: &[&Colleague]) -> Result<PersonId, Halt> {
        if people.is_empty() {
            self.talk.say("Nobody on the list of authorised people may do this today.")?;
        }
        for (n, person) in people.iter().enumerate() {
            self.talk.say(&format!("{}. {}, {}", n + 1, person.name, person.roles_text()))?;
        }
        let reply = self.prompt(Prompt::Short, &format!("{text}? Number or id"))?;
        let by_number = reply.parse::<usize>().ok().and_then(|n| people.get(n.checked_sub(1)?));
        let chosen = by_number.or_else(|| people.iter().find(|p| p.id.as_str() == reply));
        match chosen {
            Some(person) => Ok(person.id.clone()),
            None => self.not_understood(&reply),
        }
    }

    /// Opens the key of `person`, who is asked for its passphrase with the words `why`.
    pub(super) fn signer(&mut self, person: &PersonId, why: &str) -> Result<Box<dyn Signer>, Halt> {
        let passphrase = if self.with.keys.asks_passphrase(person) {
            let Some(passphrase) = self.with.passphrases.ask(person, why) else {
                self.talk.say("No passphrase was given. Nothing was signed.")?;
                return Err(Halt::Again);
            };
            passphrase
        } else {
            Zeroizing::new(String::new())
        };
        match self.with.keys.signer(person, passphrase) {
            Ok(signer) => Ok(signer),
            Err(error) => {
                self.talk.say(&format!("Not signed: {error}."))?;
                Err(Halt::Again)
            }
        }
    }

    /// The verdict, its reason and who decides, for a decision.
    fn decision(&mut self, question: &Question) -> Result<(Verdict, String, PersonId), Halt> {
        let Ask::Decide { may, .. } = &question.ask else { return Err(Halt::Again) };
        let shown = Shown::of(self.session);
        let reply = self.prompt(Prompt::Short, "The number of the decision")?;
        let index = reply.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        let Some(verdict) = index.and_then(|i| may.get(i)).copied() else {
            return self.not_understood(&reply);
        };
        let reason = self.reason("The reason")?;
        let person = self.person("Who decides", &shown.people_for(question.by))?;
        self.echoed(&format!(
            "{} decides: {}, because {reason}",
            shown.name(&person),
            decision_words(verdict)
        ))?;
        Ok((verdict, reason, person))
    }

    /// A decision on what was referred.
    pub(super) fn decide(&mut self, _shown: &Shown, question: &Question) -> Result<(), Halt> {
        let (verdict, reason, person) = self.decision(question)?;
        let signer = self.signer(&person, "to sign the decision")?;
        let result =
            self.session.decide(&question.address, (verdict, &reason), &person, signer.as_ref());
        self.saved(result)?;
        self.talk.say(&format!("Saved and signed: {}.", decision_words(verdict)))?;
        Ok(())
    }

    /// Another decision in the place of an earlier one.
    pub(super) fn correct_decision(&mut self, question: &Question) -> Result<(), Halt> {
        let (verdict, why, person) = self.decision(question)?;
        let reason = self.reason("Why is the decision corrected")?;
        let signer = self.signer(&person, "to sign the corrected decision")?;
        let address = question.address.clone();
        let meaning = Meaning::Decided { verdict, reason: why.clone() };
        let signed = self.session.sign(&person, Some(address.clone()), meaning, signer.as_ref());
        let signed = match signed {
            Ok(signed) => Some(signed),
            Err(error) => {
                self.saved(Err(error))?;
                return Err(Halt::Again);
            }
        };
        let answer = Answer::Decided { verdict, reason: why };
        self.submit(Command::Correct { address, answer, reason, signed })?;
        self.talk.say(&format!("Corrected and signed: {}.", decision_words(verdict)))?;
        Ok(())
    }

    /// A hold: first whoever worked signs for it, then a mechanic lifts the hold.
    pub(super) fn hold(&mut self, shown: &Shown, question: &Question) -> Result<(), Halt> {
        self.performers(shown)?;
        self.talk.say("Nobody goes on before a mechanic has looked and lifts the hold.")?;
        for found in shown.found_so_far() {
            self.talk.say(&format!("Found: {}.", found.trim_end_matches('.')))?;
        }
        let person = self.person("Who lifts the hold", &shown.people_for(question.by))?;
        self.echoed(&format!("{} lifts the hold", shown.name(&person)))?;
        let signer = self.signer(&person, "to lift the hold")?;
        let result = self.session.release_hold(&question.address, &person, signer.as_ref());
        self.saved(result)?;
        self.talk.say("Saved and signed. The hold is lifted.")?;
        Ok(())
    }

    /// Everybody with open work signs for it.
    pub(super) fn performers(&mut self, shown: &Shown) -> Result<(), Halt> {
        for open in &shown.unsigned {
            let name = shown.name(&open.person);
            self.echoed(&format!("{name} signs for their own work, {}", open.range_text()))?;
            let signer = self.signer(&open.person, "to sign for your own work")?;
            let result = self.session.sign_performed(&open.person, signer.as_ref());
            self.saved(result)?;
            self.talk.say(&format!("Signed by {name}."))?;
        }
        Ok(())
    }

    /// The command `sign`: whoever has open work signs for it now.
    pub(super) fn sign_own_work(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        if shown.unsigned.is_empty() {
            self.talk.say("All work so far is signed for.")?;
        }
        self.performers(&shown)
    }
}
