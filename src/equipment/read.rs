//! Reading an equipment file: values are taken, and held against each other.

mod fasteners;
mod stacks;

use std::collections::BTreeMap;

use super::model::{Constant, Equipment, FitOut, NamedLimit, Part};
use crate::diag::{Code, Diagnostic, suggestion};
use crate::ids::{FigureId, Name, PartId};
use crate::language::take::{self, Lower, each, optional};
use crate::language::{self, FileKind, head};
use crate::source::{At, FileId, Source, Span};
use crate::units::Quantity;
use crate::yaml::Node;

/// Reads an equipment file. It is there only without errors; warnings may come with it.
pub fn read(file: FileId, source: &Source) -> (Option<Equipment>, Vec<Diagnostic>) {
    language::read((file, source), FileKind::Equipment, equipment)
}

fn equipment(root: &Node, lower: &mut Lower<'_>) -> Option<Equipment> {
    let revisions = lower.revisions(root);
    let positions = positions(root, lower);
    let settings = settings(root, lower);
    let fit_outs = fit_outs(root, lower);
    let parts = parts(root, lower);
    let fasteners = fasteners::fasteners(root, lower);
    let limits = figures(root, "limits", lower, named_limit);
    let torques = figures(root, "torques", lower, named_limit);
    let stacks = stacks::stacks(root, lower);
    let constants = figures(root, "constants", lower, |key, node, _| constant(key, node));
    one_figure_a_name(root, lower);
    Some(Equipment {
        id: take::name(root.get("equipment")?)?,
        family: optional(root.get("family"), take::name)?,
        title: take::text(root.get("title")?)?,
        revision: take::revision(root.get("revision")?)?,
        effective: take::date(root.get("effective")?)?,
        revisions: revisions?,
        positions: positions?,
        settings: settings?,
        fit_outs: fit_outs?,
        parts: parts?,
        limits: limits?.into_iter().chain(torques?).collect(),
        constants: constants?,
        fasteners: fasteners?,
        stacks: stacks?,
    })
}

fn entries<'n>(root: &'n Node, key: &str) -> &'n [(At<String>, Node)] {
    root.get(key).map_or(&[], Node::entries)
}

fn positions(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<Name, Vec<String>>> {
    let kinds = entries(root, "positions").iter().map(|(key, node)| {
        let names = each(Some(node), take::text_at)?;
        lower.unique(&names, "positions");
        let names = names.into_iter().map(|name| name.value).collect();
        Some((take::key_name(key)?.value, names))
    });
    kinds.collect::<Vec<_>>().into_iter().collect()
}

fn settings(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<Name, Vec<At<Name>>>> {
    let settings = entries(root, "settings").iter().map(|(key, node)| {
        lower.unique(&each(Some(node), take::text_at)?, "choices");
        Some((take::key_name(key)?.value, take::names(Some(node))?))
    });
    settings.collect::<Vec<_>>().into_iter().collect()
}

/// Fit-outs; each gives one of the choices for every setting, and nothing else.
fn fit_outs(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<String, FitOut>> {
    let settings = entries(root, "settings");
    let fit_outs = entries(root, "fit_outs").iter().map(|(letter, node)| {
        let mut given = BTreeMap::new();
        let others = node.entries().iter().filter(|(key, _)| key.value != "title");
        let mut misspelt = Vec::new();
        for (key, value) in others {
            match settings.iter().find(|(setting, _)| setting.value == key.value) {
                Some((_, choices)) => {
                    one_of(value, choices, lower);
                    let name = |text: &str| Name::new(text).ok();
                    given.insert(name(&key.value)?, name(value.text()?)?);
                }
                None => misspelt.extend(unknown_setting(key, settings, lower)),
            }
        }
        for (setting, _) in settings {
            let absent = node.get(&setting.value).is_none() && !misspelt.contains(&setting.value);
            if absent && !node.entries().is_empty() {
                let headline = format!("fit-out `{}` gives no `{}`", letter.value, setting.value);
                lower.report(
                    Diagnostic::error(Code::MissingKey, letter.span, headline)
                        .related(setting.span, "the setting")
                        .help("give every setting one of its choices"),
                );
            }
        }
        let title = take::text(node.get("title")?)?;
        Some((letter.value.clone(), FitOut { title, settings: given }))
    });
    fit_outs.collect::<Vec<_>>().into_iter().collect()
}

fn one_of(value: &Node, choices: &Node, lower: &mut Lower<'_>) {
    let Some(text) = value.text() else { return };
    let known: Vec<&str> = choices.items().iter().filter_map(Node::text).collect();
    if Name::new(text).is_err() || known.contains(&text) {
        return;
    }
    let help = match suggestion(text, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "take one of them, or add it there".to_owned(),
    };
    let headline = format!("`{text}` is not one of the choices of this setting");
    lower.report(
        Diagnostic::error(Code::BadValue, value.span, headline)
            .related(choices.span, "the choices")
            .help(help),
    );
}

/// Reports a key of a fit-out that is no setting, and gives the setting that was probably meant.
fn unknown_setting(
    key: &At<String>,
    settings: &[(At<String>, Node)],
    lower: &mut Lower<'_>,
) -> Option<String> {
    Name::new(key.value.as_str()).ok()?;
    let near = suggestion(&key.value, settings.iter().map(|(s, _)| s.value.as_str()));
    let help = match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => "declare it under `settings` with its choices".to_owned(),
    };
    let headline = format!("`{}` is not a setting", key.value);
    lower.error(Code::UnknownKey, key.span, headline, &help);
    near.map(str::to_owned)
}

fn parts(root: &Node, lower: &mut Lower<'_>) -> Option<BTreeMap<PartId, Part>> {
    let kinds: Vec<&str> =
        entries(root, "positions").iter().map(|(key, _)| key.value.as_str()).collect();
    let parts = entries(root, "parts").iter().map(|(key, node)| {
        if let Some(per) = node.get("per")
            && let Some(kind) = per.text()
            && Name::new(kind).is_ok()
            && !kinds.contains(&kind)
        {
            let help = match suggestion(kind, kinds.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "declare the kind under `positions`".to_owned(),
            };
            let headline = format!("there is no kind of position `{kind}`");
            lower.error(Code::BadValue, per.span, headline, &help);
        }
        let part = Part {
            title: take::text(node.get("title")?)?,
            number: optional(node.get("number"), take::text)?,
            quantity: optional(node.get("quantity"), take::number)?.unwrap_or(1),
            per: optional(node.get("per"), take::name)?,
            always_new: take::flag(node.get("always_new")),
            lot: take::flag(node.get("lot")),
            span: key.span,
        };
        Some((PartId::new(key.value.as_str()).ok()?, part))
    });
    parts.collect::<Vec<_>>().into_iter().collect()
}

/// Figures by group and name.
fn figures<T>(
    root: &Node,
    under: &str,
    lower: &mut Lower<'_>,
    mut take: impl FnMut(&At<String>, &Node, &mut Lower<'_>) -> Option<T>,
) -> Option<BTreeMap<FigureId, T>> {
    let mut all = Vec::new();
    for (group, names) in entries(root, under) {
        for (key, node) in names.entries() {
            let id = FigureId::new(format!("{}.{}", group.value, key.value));
            let alone =
                Name::new(group.value.as_str()).is_ok() && Name::new(key.value.as_str()).is_ok();
            if let (true, Err(why)) = (alone, &id) {
                let headline = format!("`{}.{}` is too long: {why}", group.value, key.value);
                lower.error(Code::BadName, key.span, headline, "shorten one of the two names");
            }
            let taken = take(key, node, lower);
            all.push(id.ok().zip(taken));
        }
    }
    all.into_iter().collect()
}

fn named_limit(key: &At<String>, node: &Node, lower: &mut Lower<'_>) -> Option<NamedLimit> {
    let limit = lower.limit(node, key.span);
    let plausible = optional(node.get("plausible"), |range| {
        let ends = lower.range(range)?;
        if let Some(limit) = &limit {
            let fits = encloses(&ends, (&limit.at_least, &limit.at_most));
            if !fits {
                not_plausible(head(range), key.span, lower);
            }
        }
        Some(ends)
    });
    Some(NamedLimit {
        limit: limit?,
        nominal: optional(node.get("nominal"), |n| Some(take::figure(n)?.0))?,
        plausible: plausible?,
        basis: take::text(node.get("basis")?)?,
        span: key.span,
    })
}

fn encloses(
    (from, to): &(Quantity, Quantity),
    (least, most): (&Option<Quantity>, &Option<Quantity>),
) -> bool {
    let inside = |bound: &Quantity| {
        bound.dimension == from.dimension && from.si <= bound.si && bound.si <= to.si
    };
    least.iter().chain(most).all(inside)
}

fn not_plausible(range: Span, limit: Span, lower: &mut Lower<'_>) {
    lower.report(
        Diagnostic::error(Code::BadLimit, range, "the plausible range does not enclose the limit")
            .related(limit, "the limit")
            .help("a reading at the limit must be plausible; look at the figures and units"),
    );
}

fn constant(key: &At<String>, node: &Node) -> Option<Constant> {
    Some(Constant {
        value: take::figure(node.get("value")?)?.0,
        basis: optional(node.get("basis"), take::text)?,
        span: key.span,
    })
}

/// Conditions name limits, torques and constants alike, so that no name may stand for two.
fn one_figure_a_name(root: &Node, lower: &mut Lower<'_>) {
    for (under, other) in [("constants", "limits"), ("constants", "torques"), ("torques", "limits")]
    {
        one_of_two(root, (under, other), lower);
    }
}

fn one_of_two(root: &Node, (under, other): (&str, &str), lower: &mut Lower<'_>) {
    for (group, names) in entries(root, under) {
        let limits = root.get(other).and_then(|limits| limits.get(&group.value));
        for (key, _) in names.entries() {
            let known = limits.map_or(&[][..], Node::entries).iter();
            let mut same = known.filter(|(limit, _)| limit.value == key.value);
            if let Some((limit, _)) = same.next() {
                lower.twice(key, limit.span, "figures of the same group");
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    #[test]
    fn positions_fit_outs_and_figures_are_read_as_written() {
        let text = include_str!("../../tests/fixtures/language/good/equipment_full.yaml");
        let (equipment, found) = read(FileId(0), &Source::new("e", text));
        assert_eq!(found, []);
        let equipment = equipment.unwrap();
        let name = |text: &str| Name::new(text).unwrap();
        assert_eq!(equipment.positions[&name("side")], ["drive", "A1", "0510"]);
        assert_eq!(equipment.fit_outs["B2"].settings[&name("elastomer")], name("nbr"));
        let seal = &equipment.parts[&PartId::new("seal").unwrap()];
        assert_eq!((seal.quantity, seal.always_new), (2, true));
        let figure = |text: &str| FigureId::new(text).unwrap();
        let backlash = &equipment.limits[&figure("wheel.backlash")];
        assert_eq!(backlash.limit.unit, Unit::Millimetre);
        assert_eq!(
            backlash.plausible.as_ref().unwrap().1,
            Quantity::parse_literal("3 mm").unwrap().0
        );
        assert_eq!(equipment.constants[&figure("flush.at_most")].value, Quantity::whole(3));
    }
}
