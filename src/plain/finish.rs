//! The end of a job: what must be looked at before signing, line by line, then the release.

use super::{Halt, PlainEnd, Prompt, Walker};
use crate::shown::{Place, Shown};

impl Walker<'_> {
    /// Shows where a job stands that has no open step, and goes on to its release.
    pub(super) fn finish(&mut self, shown: &Shown) -> Result<Option<PlainEnd>, Halt> {
        match &shown.place {
            Place::Stopped { address, text } => {
                self.talk.say(&format!("The job was stopped at {address}: {}", text.text))?;
                self.talk.say(&format!("State of the machine: {}", text.safe_state))?;
            }
            Place::Asked(_) => {
                self.talk.say(&format!("The job ends here: {}.", shown.stopped_short()))?;
            }
            Place::End => self.talk.say("All steps are answered.")?,
        }
        if shown.blocks.is_empty() {
            let reply = self.prompt(
                Prompt::Short,
                "`release` = look at the list, then sign; or `correct`, `outline`, `quit`",
            )?;
            if reply != "release" {
                return self.not_understood(&reply);
            }
            return self.release(shown);
        }
        for block in &shown.blocks {
            self.talk.say(&format!("Not ready to sign: {block}."))?;
        }
        if shown.unsigned.is_empty() {
            let failed = shown.outline.iter().any(|row| row.failed);
            for row in shown.outline.iter().filter(|row| row.failed) {
                if let Some(address) = &row.address {
                    self.in_words(&shown.step_in_words(address))?;
                    self.talk.say(&format!("Say what was done: `dispose {address}`"))?;
                }
            }
            let may = if failed {
                "`dispose ADDRESS` = a mechanic says what was done; or `correct`, `outline`, `quit`"
            } else {
                "`correct`, `outline`, `note` or `quit`"
            };
            let reply = self.prompt(Prompt::Short, may)?;
            return self.not_understood(&reply);
        }
        self.performers(shown)?;
        Ok(None)
    }

    /// Every exception is acknowledged on its own, then a mechanic signs.
    fn release(&mut self, shown: &Shown) -> Result<Option<PlainEnd>, Halt> {
        let lines = self.session.exceptions();
        if lines.is_empty() {
            self.talk.say("There is nothing to look at before signing.")?;
        } else {
            self.talk.say("To look at before signing, one by one:")?;
        }
        for (n, line) in lines.iter().enumerate() {
            self.talk.say(&format!("{} of {}: {line}", n + 1, lines.len()))?;
            self.in_words(&shown.line_in_words(line))?;
            let reply = self.prompt(Prompt::Short, "Type `seen` once you have looked at it")?;
            if reply != "seen" {
                return self.not_understood(&reply);
            }
        }
        let person = self.person("Who signs for the whole job", &shown.releasers())?;
        self.echoed(&format!(
            "{} signs for job {} on {}: {}",
            shown.name(&person),
            shown.job,
            shown.machine,
            shown.title
        ))?;
        let signer = self.signer(&person, "to sign for the whole job")?;
        if self.session.state().person.as_ref() != Some(&person) {
            let result = self.session.identify(&person, signer.as_ref());
            self.saved(result)?;
        }
        match self.with.releaser.release(self.session, &person, signer.as_ref(), &lines) {
            Ok(written) => {
                for line in &written {
                    self.talk.say(line)?;
                }
                Ok(Some(PlainEnd::Released))
            }
            Err(why) => {
                if self.session.state().released.is_some() {
                    self.talk.say(&format!("{}.", super::sentence(&why)))?;
                    return Ok(Some(PlainEnd::Released));
                }
                self.talk.say(&format!("Not released: {why}."))?;
                Ok(None)
            }
        }
    }
}
