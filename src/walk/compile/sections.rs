//! Sections: steps in order, in any order, or one of them; per position; repeated to a bound.

use std::ops::Range;

use super::ask::{self, plain_instance};
use super::{Builder, Context, Open};
use crate::expr::{Comparison, Expr};
use crate::ids::{Name, StepId};
use crate::procedure::model::{EntryKind, Repeat, Step};
use crate::source::{At, Span};
use crate::walk::flow::{
    AnyOrder, Ask, ConditionKind, Field, Guard, GuardIdx, InstanceIdx, NodeIdx, Ref,
};

/// A section as it is compiled.
#[derive(Clone, Copy)]
pub(super) struct Section<'a> {
    pub(super) title: &'a str,
    pub(super) each: Option<&'a At<Name>>,
    pub(super) repeat: Option<&'a Repeat>,
    pub(super) any_order: Option<Span>,
    pub(super) one_of: Option<&'a At<String>>,
    pub(super) steps: &'a [Step],
}

/// The steps of a section, and how they are taken.
#[derive(Clone, Copy)]
struct Block<'a> {
    steps: &'a [Step],
    free: Option<Span>,
    one_of: Option<&'a At<String>>,
}

impl<'a> Builder<'a> {
    pub(super) fn section(&mut self, step: &'a Step, section: Section<'a>, context: &Context<'a>) {
        let Section { title, each, repeat, any_order, one_of, steps } = section;
        // With `each` the positions are free and a position's steps keep their order.
        let (positions_free, steps_free) =
            if each.is_some() { (any_order, None) } else { (None, any_order) };
        let block = Block { steps, free: steps_free, one_of };
        let mut members = Vec::new();
        let positions: Vec<Vec<(Name, String)>> = match each {
            None => vec![Vec::new()],
            Some(each) => self
                .equipment
                .positions
                .get(&each.value)
                .into_iter()
                .flatten()
                .map(|name| vec![(each.value.clone(), name.clone())])
                .collect(),
        };
        for position in positions {
            let from = self.nodes.len();
            let spoken = position
                .iter()
                .map(|(kind, name)| format!("{} {}", kind.spoken(), name.replace('_', " ")));
            let heading =
                std::iter::once(title.to_owned()).chain(spoken).collect::<Vec<_>>().join(", ");
            match repeat {
                None => {
                    let mut inner = context.inside(&step.id.value, position, 1);
                    inner.within.push(heading);
                    self.block(block, &inner);
                }
                Some(repeat) => {
                    let repeat = (repeat, block);
                    self.repeat(step, repeat, &position, &heading, context);
                }
            }
            members.push(from..self.nodes.len());
        }
        self.free(members, positions_free);
    }

    /// The steps of a section: in order, in any order, or one of them.
    fn block(&mut self, block: Block<'a>, context: &Context<'a>) {
        let Block { steps, free, one_of } = block;
        let chosen = one_of.map(|text| (self.chosen(text, steps, context), text.span));
        let mut members = Vec::new();
        for step in steps {
            let from = self.nodes.len();
            let step = std::slice::from_ref(step);
            match chosen.zip(step.first()) {
                None => self.steps(step, context),
                Some(((index, span), first)) => {
                    let guard = self.is_chosen(index, first, span);
                    self.when(guard, |builder| builder.steps(step, context));
                }
            }
            members.push(from..self.nodes.len());
        }
        self.free(members, free);
    }

    /// The question which one of `steps` is taken.
    fn chosen(&mut self, text: &At<String>, steps: &[Step], context: &Context<'a>) -> InstanceIdx {
        let choices = steps.iter().filter_map(|step| {
            let id = Name::new(step.id.value.as_str()).ok()?;
            Some((At::new(id, step.id.span), ask::title(step)))
        });
        let kind = EntryKind::Choice(choices.collect());
        let ask = Ask::Enter { text: text.value.clone(), kind };
        let id = StepId::new("chosen").expect("internal: `chosen` is a name");
        let mut instance = plain_instance(context, &id, ask, context.procedure.performed_by);
        instance.begun_only = context.begun_only;
        let mut path = context.path.clone();
        path.push(id);
        self.ask(instance, path)
    }

    /// True when `step` is the one that was chosen.
    fn is_chosen(&mut self, index: InstanceIdx, step: &Step, span: Span) -> GuardIdx {
        let word = step.id.value.as_str();
        let answer = Ref::Answer { passes: vec![index], field: Field::Value };
        let name = Box::new(Expr::Name(answer, span));
        let other = Name::new(word).expect("internal: a step's id is a name");
        let other = Box::new(Expr::Word(other, span));
        let expr = Expr::Compare(Comparison::Equal, name, other, span);
        let text = format!("chosen == {word}");
        self.guard(Guard::Condition { text, expr, kind: ConditionKind::When })
    }

    /// Notes that the node ranges `members` may be walked in any order.
    fn free(&mut self, mut members: Vec<Range<NodeIdx>>, free: Option<Span>) {
        members.retain(|member| !member.is_empty());
        if let Some(span) = free
            && members.len() > 1
        {
            self.any_orders.push((AnyOrder { members }, span));
        }
    }

    fn repeat(
        &mut self,
        step: &'a Step,
        (repeat, block): (&'a Repeat, Block<'a>),
        position: &[(Name, String)],
        heading: &str,
        context: &Context<'a>,
    ) {
        let at_most = self.count(&repeat.at_most);
        let mut done = Vec::new();
        let mut tests = Vec::new();
        for pass in 1..=at_most {
            if self.full(step.id.span) {
                return;
            }
            let mut inner = context.inside(&step.id.value, position.to_vec(), pass);
            inner.within.push(if pass > 1 {
                format!("{heading}, pass {pass}")
            } else {
                heading.to_owned()
            });
            inner.begun_only |= pass > 1;
            self.block(block, &inner);
            let Some(guard) = self.condition(&repeat.until, &inner.place(), ConditionKind::Until)
            else {
                return;
            };
            let node = self.test(guard);
            tests.push(node);
            done.push(Open::Yes(node));
            self.open = vec![Open::No(node)];
        }
        let first = context.inside(&step.id.value, position.to_vec(), 1);
        self.otherwise(&repeat.otherwise, &first, &mut done);
        self.open = done;
    }
}
