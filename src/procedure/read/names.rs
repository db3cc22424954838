//! Names of one procedure: no two steps that are visible together share one, and every token that a
//! step speaks of is declared.

use crate::diag::{Code, Diagnostic, suggestion};
use crate::language::take::{Lower, text_at};
use crate::source::{At, Span};
use crate::yaml::Node;

/// Checks the step ids and tokens of the procedure `root`.
pub(super) fn check(root: &Node, lower: &mut Lower<'_>) {
    let declared = root.get("tokens").map_or(&[][..], Node::entries).iter();
    let mut tokens: Vec<String> = declared.map(|(key, _)| key.value.clone()).collect();
    let loose = root.get("loose_parts").map_or(&[][..], Node::entries).iter();
    tokens.extend(loose.map(|(key, _)| key.value.clone()));
    let assumed = root.get("assumes").map_or(&[][..], Node::items).iter();
    tokens.extend(assumed.filter_map(Node::text).map(str::to_owned));
    let mut names = Names { tokens, visible: Vec::new() };
    names.block(root.get("steps"), lower);
}

struct Names {
    tokens: Vec<String>,
    /// The ids visible where the check stands, outermost first.
    visible: Vec<At<String>>,
}

impl Names {
    /// The steps of one block see each other, what stands around them, and nothing inside others.
    fn block(&mut self, steps: Option<&Node>, lower: &mut Lower<'_>) {
        let steps = steps.map_or(&[][..], Node::items);
        let outer = self.visible.len();
        for step in steps {
            let Some(id) = step.get("id").and_then(text_at) else { continue };
            match self.visible.iter().position(|known| known.value == id.value) {
                Some(at) if at >= outer => lower.twice(&id, self.place(at, id.span), "steps"),
                Some(at) => {
                    let headline = format!("`{}` hides a step of the same name", id.value);
                    lower.report(
                        Diagnostic::error(Code::DuplicateName, id.span, headline)
                            .related(self.place(at, id.span), "this one")
                            .help("give one of them another name"),
                    );
                }
                None => self.visible.push(id),
            }
        }
        for step in steps {
            for key in ["sets", "clears", "needs"] {
                self.known_tokens(step.get(key), lower);
            }
            self.inside(step, lower);
        }
        self.visible.truncate(outer);
    }

    fn place(&self, at: usize, or: Span) -> Span {
        self.visible.get(at).map_or(or, |known| known.span)
    }

    /// The blocks inside one step: a section's steps, and those of exits.
    fn inside(&mut self, step: &Node, lower: &mut Lower<'_>) {
        self.block(step.get("steps"), lower);
        for key in ["not_so", "below", "above", "could_not_measure", "too_late"] {
            self.block(step.get(key).and_then(|exit| exit.get("steps")), lower);
        }
        for (_, finding) in step.get("findings").map_or(&[][..], Node::entries) {
            self.block(finding.get("steps"), lower);
        }
    }

    fn known_tokens(&self, names: Option<&Node>, lower: &mut Lower<'_>) {
        for node in names.map_or(&[][..], Node::items) {
            let Some(token) = node.text() else { continue };
            if self.tokens.iter().any(|known| known == token) {
                continue;
            }
            let help = match suggestion(token, self.tokens.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "declare it under `tokens`, with a title for people".to_owned(),
            };
            let headline = format!("the token `{token}` is not declared");
            lower.error(Code::UndeclaredToken, node.span, headline, &help);
        }
    }
}
