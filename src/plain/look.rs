//! Says where the job stands: the step, the outline, the parts, what is open, what can be typed.

use super::{Halt, Walker, sentence};
use crate::shown::grid::GridShown;
use crate::shown::{Question, Shown, decision_words};
use crate::walk::flow::Ask;

/// What can be typed at any time.
const HELP: [&str; 25] = [
    "At any time (with a colon in front where your own text is asked for, such as `:quit`):",
    "help             this list",
    "where            the step that is asked, in full, and how far the job is",
    "outline          every step with its state and its address",
    "sheet            the job sheet: parts, readings, cause, deviations, notes",
    "history          this machine's earlier jobs, and each reading over them",
    "note             add a note; `note TEXT` for a short one",
    "stop-work        stop the work and make the machine safe, with the reason",
    "pause            pause, with what the next person has to know",
    "seen TIME WHY    what you answer next was seen earlier: `seen 10:05 both hands in oil`",
    "file PATH        put a photo or file beside this step",
    "files            the photos and files of this job, each with its path",
    "go ADDRESS       do another open step first, where the order is free",
    "left-out         a mechanic lets this step be left out, with a reason",
    "otherwise        a mechanic lets this step be done otherwise than written",
    "concede ADDRESS  a mechanic puts another decision in the place of that of the rules",
    "dispose ADDRESS  a mechanic says what was done about a failed result",
    "correct ADDRESS  replace an earlier answer, with a reason; nothing is erased",
    "loosened TEXT    a fastener was loosened: `loosened 5 the washer was missing`",
    "recheck TEXT     a fastener is checked again: `recheck 5 tightening 34`",
    "sign             sign for your own work so far",
    "who              somebody else goes on",
    "back             ask the question again from its start",
    "quit             leave; the job stays as it is",
    "Each answer is said back before it counts.",
];

impl Walker<'_> {
    pub(super) fn help(&mut self) -> Result<(), Halt> {
        for line in HELP {
            self.talk.say(line)?;
        }
        Ok(())
    }

    /// Where in the job a step stands.
    pub(super) fn place(&mut self, shown: &Shown, question: &Question) -> Result<(), Halt> {
        self.talk.say("")?;
        self.talk.say(&format!("{}. Address {}.", shown.progress_text(), question.address))?;
        if !question.within.is_empty() {
            self.talk.say(&format!("Section: {}.", question.breadcrumb()))?;
        }
        Ok(())
    }

    /// What a step asks, in full.
    pub(super) fn step(&mut self, question: &Question) -> Result<(), Halt> {
        if let Some(at) = question.stands_at() {
            self.talk.say(&format!("AT: {at}"))?;
        }
        if let Some(whom) = &question.for_whom {
            let text = whom.words("type `who` for that person", "pick them by number below");
            self.talk.say(&format!("FOR {text}"))?;
        }
        if let Some(again) = &question.again {
            self.talk.say(&format!("AGAIN: {again}"))?;
        }
        self.talk.say(&format!("{}: {}", question.task(), question.ask.text()))?;
        if let Some(first) = question.done_first() {
            self.talk.say(&format!("First: {first}"))?;
        }
        for note in &question.standing {
            let see = note.see.trim_end_matches('.');
            self.talk.say(&format!("At any moment: {see}. Then: {}", note.then))?;
        }
        if let Some(late) = &question.late {
            self.talk.say(&format!("LATE ENTRY: {late}"))?;
        }
        if let Some(expect) = &question.expect {
            self.talk.say(&format!("What good looks like: {expect}"))?;
        }
        if !question.uses.is_empty() {
            self.talk.say(&format!("Use: {}.", question.uses.join(", ")))?;
        }
        if let Some(why) = &question.why {
            self.talk.say(&format!("Why: {why}"))?;
        }
        match &question.ask {
            Ask::Look { findings, .. } => {
                for (n, finding) in findings.iter().enumerate() {
                    self.talk.say(&format!("{}. {}", n + 1, finding.see))?;
                }
                for seen in &question.seen_before {
                    let found: Vec<String> =
                        seen.findings.iter().map(|place| (place + 1).to_string()).collect();
                    let found = found.join(" and ");
                    self.talk.say(&format!("Seen before, time {}: {found}", seen.time))?;
                }
            }
            Ask::WorkOut(_) => {
                if let Some(grid) = &question.grid {
                    for (n, row) in (1..).zip(grid.rows()) {
                        let row: Vec<String> = row.iter().map(GridShown::um_text).collect();
                        let row = row.join(", ");
                        self.talk.say(&format!("Row {n}: {row} µm above the lowest place"))?;
                    }
                }
                for line in question.worked.iter().flat_map(|(_, lines)| lines) {
                    self.talk.say(line)?;
                }
            }
            Ask::Build { .. } => self.stack(question)?,
            Ask::Tighten(_) => self.ring(question)?,
            Ask::Enter { .. } => {
                for (n, (id, text)) in question.choices.iter().enumerate() {
                    self.talk.say(&format!("{}. {id}: {text}", n + 1))?;
                }
            }
            Ask::Decide { may, .. } => {
                if let Some(about) = &question.about {
                    self.talk.say(&format!("About: {about}"))?;
                }
                for (n, verdict) in may.iter().enumerate() {
                    self.talk.say(&format!("{}. {}", n + 1, decision_words(*verdict)))?;
                }
            }
            Ask::Stop(stop) => {
                self.talk.say(&format!("State of the machine: {}", stop.safe_state))?;
                if !stop.tell.is_empty() {
                    self.talk.say(&format!("Tell: {}.", stop.tell.join(", ")))?;
                }
            }
            Ask::Needs(_)
            | Ask::Do(_)
            | Ask::Check { .. }
            | Ask::Measure(_)
            | Ask::Attach { .. }
            | Ask::Hold(_)
            | Ask::Wait { .. } => {}
        }
        Ok(())
    }

    /// Another open step is put first.
    pub(super) fn go(&mut self, text: &str) -> Result<(), Halt> {
        let shown = Shown::at(self.session, self.chosen.as_ref());
        match shown.open_too.iter().find(|(address, _)| address.to_string() == text) {
            Some((address, _)) => self.chosen = Some(address.clone()),
            None if shown.open_too.is_empty() => {
                self.talk.say("No other step is open here: the order is as written.")?;
            }
            None => {
                self.talk.say("Write `go` and one of these addresses:")?;
                for (address, text) in &shown.open_too {
                    self.talk.say(&format!("{address}: {text}"))?;
                }
            }
        }
        Ok(())
    }

    pub(super) fn where_am_i(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        let who = shown.name_or_nobody(shown.who.as_ref());
        self.talk.say(&format!("At work: {who}. {}.", sentence(&shown.progress_text())))?;
        for line in &shown.open {
            self.talk.say(&format!("Open: {line}"))?;
        }
        for (address, text) in &shown.open_too {
            self.talk.say(&format!("Open too, in any order: {text} [{address}]"))?;
        }
        Ok(())
    }

    pub(super) fn outline(&mut self) -> Result<(), Halt> {
        let shown = Shown::of(self.session);
        for row in &shown.outline {
            let indent = "  ".repeat(row.depth);
            let mut bits = vec![match row.count {
                Some((done, all)) => format!("section, {done} of {all} done: {}", row.text),
                None => format!("{}: {}", row.state.word(), row.text),
            }];
            bits.extend(row.address.as_ref().map(|address| format!("[{address}]")));
            bits.extend(row.answer.as_ref().map(|answer| format!("-> {answer}")));
            bits.extend(row.because.as_ref().map(|because| format!("(only when {because})")));
            self.talk.say(&format!("{indent}{}", bits.join(" ")))?;
        }
        Ok(())
    }
}
