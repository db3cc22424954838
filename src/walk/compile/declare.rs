//! What there is before anything is unrolled: every step, position, token and procedure by name.
//!
//! Reports what is named and is not there. Laying the steps into the graph is the parent's work.

use std::sync::Arc;

use super::{Builder, ways};
use crate::diag::{Code, Diagnostic, suggestion};
use crate::ids::{Name, PartId, ProcedureId, StepId, TokenId};
use crate::procedure::model::{Action, Procedure, Step};
use crate::source::{At, Span};

impl Builder<'_> {
    pub(super) fn declare_procedure(
        &mut self,
        procedure: &Procedure,
        (prefix, kinds): (&[StepId], &[Name]),
        stack: &mut Vec<ProcedureId>,
    ) {
        let id = &procedure.id.value;
        let written_for = &procedure.equipment.value;
        if !self.equipment.takes(written_for) {
            self.out.push(
                Diagnostic::error(
                    Code::WrongEquipment,
                    procedure.equipment.span,
                    format!(
                        "`{id}` is written for `{written_for}`, and this is `{}`",
                        self.equipment.id.value
                    ),
                )
                .help("pick a procedure of this equipment, or name the family in both files"),
            );
        }
        for (token, spec) in &procedure.tokens {
            let merged = self.tokens.entry(token.clone()).or_insert_with(|| spec.clone());
            merged.clear_before_release |= spec.clear_before_release;
            merged.loose |= spec.loose;
            merged.volatile |= spec.volatile;
            merged.personal |= spec.personal;
            // Where two procedures know the token, the shorter time holds.
            merged.lasts_s = merged.lasts_s.into_iter().chain(spec.lasts_s).min();
        }
        self.procedures.insert(id.clone(), (procedure.revision, procedure.title.clone()));
        for promise in &procedure.promises {
            self.pending_promises.push((id.clone(), prefix.to_vec(), promise.clone()));
        }
        if self.equipment.name_plate.code.is_empty() {
            for letter in &procedure.fit_outs {
                if !self.equipment.fit_outs.contains_key(&letter.value) {
                    let known = self.equipment.fit_outs.keys().map(String::as_str);
                    self.unknown(letter.span, "fit-out", &letter.value, known);
                }
            }
        }
        for token in &procedure.assumes {
            self.known_token(procedure, token);
        }
        self.in_languages_of(stack.last(), procedure);
        stack.push(id.clone());
        let needs = StepId::new("needs").expect("internal: `needs` is a name");
        let mut path = prefix.to_vec();
        path.push(needs);
        self.declared.steps.insert(path, kinds.to_vec());
        self.declare_steps(procedure, &procedure.steps, prefix, kinds, stack);
        stack.pop();
    }

    fn declare_steps(
        &mut self,
        procedure: &Procedure,
        steps: &[Step],
        prefix: &[StepId],
        kinds: &[Name],
        stack: &mut Vec<ProcedureId>,
    ) {
        for step in steps {
            let mut path = prefix.to_vec();
            path.push(step.id.value.clone());
            let mut kinds = kinds.to_vec();
            if let Action::Section { each: Some(each), .. } = &step.action {
                if kinds.contains(&each.value) {
                    self.out.push(
                        Diagnostic::error(
                            Code::BadValue,
                            each.span,
                            format!("a section around this is repeated per `{}` already", each.value),
                        )
                        .help("take one `each` out, or give the equipment a position of its own for it"),
                    );
                } else if self.equipment.positions.contains_key(&each.value) {
                    kinds.push(each.value.clone());
                } else {
                    let known = self.equipment.positions.keys().map(Name::as_str);
                    self.unknown(each.span, "kind of position", each.value.as_str(), known);
                }
            }
            self.declared.steps.insert(path.clone(), kinds.clone());
            for token in step.sets.iter().chain(&step.clears).chain(&step.needs) {
                self.known_token(procedure, token);
            }
            match &step.action {
                Action::Section { steps, .. } => {
                    self.declare_steps(procedure, steps, &path, &kinds, stack);
                }
                Action::Perform { procedure: called } => {
                    self.declare_call(called, (&path, &kinds), stack);
                }
                Action::Do { .. }
                | Action::Check { .. }
                | Action::Look { .. }
                | Action::Measure { .. }
                | Action::WorkOut(_)
                | Action::Build { .. }
                | Action::Tighten { .. }
                | Action::Enter { .. }
                | Action::Attach { .. }
                | Action::Hold { .. }
                | Action::Wait { .. }
                | Action::Stop(_) => {
                    self.known_parts(&step.fits);
                    for (_, exit) in ways(&step.action) {
                        self.known_parts(&exit.parts);
                        self.declare_steps(procedure, &exit.steps, &path, &kinds, stack);
                    }
                }
            }
        }
    }

    /// Whoever reads the safety messages of a procedure in their language reads those of what it performs.
    fn in_languages_of(&mut self, caller: Option<&ProcedureId>, called: &Procedure) {
        let Some(caller) = caller.and_then(|id| self.library.procedures.get(id)) else { return };
        let mut warns = false;
        super::each_step(&called.steps, &mut |step| warns |= !step.safety.is_empty());
        for language in caller.languages.iter().filter(|_| warns) {
            if called.languages.iter().all(|known| known.value != language.value) {
                let headline = format!(
                    "`{}` is promised in `{}`, and `{}`, which it performs, is not",
                    caller.id.value, language.value, called.id.value
                );
                self.out.push(
                    Diagnostic::error(Code::MissingTranslation, language.span, headline).help(
                        format!("translate the safety messages of `{}` too", called.id.value),
                    ),
                );
            }
        }
    }

    fn known_parts(&mut self, parts: &[At<PartId>]) {
        for part in parts {
            if !self.equipment.parts.contains_key(&part.value) {
                let known = self.equipment.parts.keys().map(PartId::as_str);
                self.unknown(part.span, "part", part.value.as_str(), known);
            }
        }
    }

    fn declare_call(
        &mut self,
        called: &At<ProcedureId>,
        (path, kinds): (&[StepId], &[Name]),
        stack: &mut Vec<ProcedureId>,
    ) {
        if stack.contains(&called.value) {
            self.out.push(
                Diagnostic::error(
                    Code::PerformCircle,
                    called.span,
                    format!("`{}` performs itself, here or through others", called.value),
                )
                .help("take out one of the calls; repeat steps with `repeat` instead"),
            );
            return;
        }
        let Some(procedure) = self.library.procedures.get(&called.value) else {
            let known = self.library.procedures.keys().map(ProcedureId::as_str);
            self.unknown(called.span, "procedure", called.value.as_str(), known);
            return;
        };
        let procedure = Arc::clone(procedure);
        self.declare_procedure(&procedure, (path, kinds), stack);
    }

    fn known_token(&mut self, procedure: &Procedure, token: &At<TokenId>) {
        if !procedure.tokens.contains_key(&token.value) {
            let known = procedure.tokens.keys().map(TokenId::as_str);
            self.unknown(token.span, "token", token.value.as_str(), known);
        }
    }

    pub(super) fn unknown<'k>(
        &mut self,
        span: Span,
        what: &str,
        name: &str,
        known: impl IntoIterator<Item = &'k str>,
    ) {
        let mut diagnostic = Diagnostic::error(
            Code::UndefinedReference,
            span,
            format!("there is no {what} `{name}`"),
        );
        diagnostic.help = Some(match suggestion(name, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None => match what {
                "token" => "declare it under `tokens` in this file".to_owned(),
                "calculation" => "`witnessmark calc` lists them all".to_owned(),
                "result" | "input of this calculation" | "word of this input" => {
                    "`witnessmark calc NAME --explain` says what it takes and gives".to_owned()
                }
                "procedure" => "add its file, or correct the name".to_owned(),
                _ => "add it to the equipment file, or correct the name".to_owned(),
            },
        });
        self.out.push(diagnostic);
    }
}
