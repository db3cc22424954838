//! Taking the work up, pausing, stopping it and letting it go on.

use super::{Halt, PlainEnd, Prompt, Walker};
use crate::ids::Role;
use crate::shown::{Shown, spoken_at};
use crate::walk::Command;

impl Walker<'_> {
    /// What is open and what was done last, acknowledged before going on.
    pub(super) fn take_up(&mut self, lines: &[String]) -> Result<(), Halt> {
        self.talk.say("Before you go on. Look at what was done last again, at the machine:")?;
        for line in lines {
            self.talk.say(&format!("- {line}"))?;
        }
        let reply = self.prompt(Prompt::Short, "Type `seen` once you have looked")?;
        if reply != "seen" {
            return self.not_understood(&reply);
        }
        self.submit(Command::TakeUp { shown: lines.to_vec() })?;
        self.talk.say("Saved: the work is in your hands.")?;
        Ok(())
    }

    /// Stops the work.
    pub(super) fn stop_work(&mut self, text: &str) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let mut standing = None;
        let mut reason = text.to_owned();
        if let Some(question) = shown.question().filter(|_| text.is_empty()) {
            for (n, note) in question.standing.iter().enumerate() {
                self.talk.say(&format!("{}. {}", n + 1, note.see))?;
            }
            let reply = self.reason("Why? A number, or your own words")?;
            let picked =
                reply.parse::<usize>().ok().and_then(|n| question.standing.get(n.checked_sub(1)?));
            standing = picked.map(|note| note.id.clone());
            reason = picked.map_or(reply, |note| note.see.clone());
        }
        self.submit(Command::Halt { standing, reason })?;
        self.talk.say("Saved: the work is stopped.")?;
        Ok(())
    }

    /// Pauses.
    pub(super) fn pause(&mut self, text: &str) -> Result<(), Halt> {
        let reason = if text.is_empty() {
            self.reason("Why, or what the next person has to know")?
        } else {
            text.to_owned()
        };
        self.submit(Command::Pause { reason })?;
        self.talk.say("Saved: paused. Go on whenever you like.")?;
        Ok(())
    }

    /// What is answered next was seen some time ago.
    pub(super) fn seen_earlier(&mut self, text: &str) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        let Some(question) = shown.question() else {
            self.talk.say("No step is asked.")?;
            return Ok(());
        };
        match self.session.seen_earlier(&question.address, text) {
            Ok(late) => {
                let at = spoken_at(late.observed, shown.now);
                self.talk.say(&format!(
                    "LATE ENTRY. What you answer here was seen {at}; both times are kept."
                ))?;
            }
            Err(refusal) => self.talk.say(&format!("Not accepted: {refusal}."))?,
        }
        Ok(())
    }

    /// The work is stopped: a mechanic lets it go on, or signs the job off as it is.
    pub(super) fn halted(
        &mut self,
        shown: &Shown,
        reason: &str,
        safe_state: &str,
    ) -> Result<Option<PlainEnd>, Halt> {
        self.talk.say(&format!("THE WORK IS STOPPED: {reason}"))?;
        self.talk.say(&format!("Leave the machine so: {safe_state}"))?;
        let text = "`go on` = a mechanic lets it go on, `sign off` = the job ends here";
        let reply = self.prompt(Prompt::Short, text)?;
        match reply.as_str() {
            "sign off" => self.finish(shown),
            "go on" => {
                let reason = self.reason("Why may it go on")?;
                let people = shown.people_for(Role::Mechanic);
                let person = self.person("Which mechanic lets it go on", &people)?;
                let signer = self.signer(&person, "to let the work go on")?;
                let result = self.session.resume_work(&reason, &person, signer.as_ref());
                self.saved(result)?;
                self.talk.say("Saved and signed: the work goes on.")?;
                Ok(None)
            }
            other => self.not_understood(other),
        }
    }
}
