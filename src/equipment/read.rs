//! Reading an equipment file: values are taken, and held against each other.

mod fasteners;
mod stacks;

use std::collections::BTreeMap;

use super::model::{CodePart, Constant, Equipment, FitOut, NamePlate, NamedLimit, Part};
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

/// The same, of a text that was parsed already, with what was wrong with it as such.
pub fn read_tree(
    file: FileId,
    source: &Source,
    parsed: (&Node, Vec<Diagnostic>),
) -> (Option<Equipment>, Vec<Diagnostic>) {
    language::read_tree((file, source), parsed, FileKind::Equipment, equipment)
}

fn equipment(root: &Node, lower: &mut Lower<'_>) -> Option<Equipment> {
    let revisions = lower.revisions(root);
    let positions = positions(root, lower);
    let settings = settings(root, lower);
    let fit_outs = fit_outs(root, lower);
    let name_plate = optional(root.get("name_plate"), |node| name_plate(node, root, lower));
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
        name_plate: name_plate?.unwrap_or_default(),
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

/// What stands on the name plate besides a letter.
fn name_plate(node: &Node, root: &Node, lower: &mut Lower<'_>) -> Option<NamePlate> {
    let serials = optional(node.get("serials"), |range| {
        let (from, to) = (take::text(range.get("from")?)?, take::text(range.get("to")?)?);
        if from.len() != to.len() || from > to {
            let span = range.get("to")?.span;
            let headline = "the last serial number is not of the length of the first, or before it";
            let help = "write both with all their digits, leading zeros too";
            lower.error(Code::BadValue, span, headline.to_owned(), help);
            return None;
        }
        Some((from, to))
    });
    let parts = node.get("code").map_or(&[][..], Node::items);
    if let (Some(code), Some(table)) = (node.get("code"), root.get("fit_outs")) {
        let headline = "the settings come from a code and from a letter".to_owned();
        lower.report(
            Diagnostic::error(Code::BadValue, head(code), headline)
                .related(head(table), "the letters")
                .help("keep the one that stands on the plate"),
        );
    }
    let code: Vec<Option<CodePart>> =
        parts.iter().map(|part| code_part(part, root, lower)).collect();
    let code = code.into_iter().collect::<Option<Vec<CodePart>>>()?;
    code_is_whole(node, root, &code, lower);
    Some(NamePlate { serials: serials?, code })
}

fn code_part(node: &Node, root: &Node, lower: &mut Lower<'_>) -> Option<CodePart> {
    let settings = entries(root, "settings");
    let length = optional(node.get("length"), take::number)?.unwrap_or(1);
    let mut means = BTreeMap::new();
    for (characters, meaning) in node.get("means").map_or(&[][..], Node::entries) {
        if characters.value.chars().count() != length as usize {
            let headline = format!("`{}` is not {length} characters long", characters.value);
            let help = "give `length` the number of characters of each";
            lower.error(Code::BadValue, characters.span, headline, help);
        }
        let mut given = BTreeMap::new();
        for (key, value) in meaning.entries() {
            match settings.iter().find(|(setting, _)| setting.value == key.value) {
                Some((_, choices)) => {
                    one_of(value, choices, lower);
                    let name = |text: &str| Name::new(text).ok();
                    given.insert(name(&key.value)?, name(value.text()?)?);
                }
                None => drop(unknown_setting(key, settings, lower)),
            }
        }
        means.insert(characters.value.clone(), given);
    }
    Some(CodePart { at: take::number(node.get("at")?)?, length, means })
}

/// Every setting comes from exactly one part of the code, whatever stands there; no two parts
/// share a character.
fn code_is_whole(node: &Node, root: &Node, code: &[CodePart], lower: &mut Lower<'_>) {
    let Some(span) = node.get("code").map(head) else { return };
    for (setting, _) in entries(root, "settings") {
        let Ok(name) = Name::new(setting.value.as_str()) else { continue };
        let by = code.iter().filter(|part| part.means.values().any(|m| m.contains_key(&name)));
        let whole = |part: &&CodePart| part.means.values().all(|m| m.contains_key(&name));
        let parts: Vec<&CodePart> = by.collect();
        if parts.len() != 1 || !parts.iter().all(whole) {
            let headline = format!("the code does not always say what `{name}` is, and just once");
            lower.report(
                Diagnostic::error(Code::MissingKey, span, headline)
                    .related(setting.span, "the setting")
                    .help("let one part of the code give it, whatever its characters are"),
            );
        }
    }
    for (i, part) in code.iter().enumerate() {
        let ends = |p: &CodePart| p.at.saturating_add(p.length);
        let shares = |p: &CodePart| p.at < ends(part) && part.at < ends(p);
        if code.iter().take(i).any(shares) {
            let headline = format!("character {} of the code belongs to two parts", part.at);
            lower.error(Code::BadValue, span, headline, "look at `at` and `length` of both");
        }
    }
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
    let criterion = lower.criterion(node, key.span);
    let plausible = optional(node.get("plausible"), |range| {
        let ends = lower.range(range)?;
        if let Some(limit) = criterion.as_ref().map(|criterion| &criterion.limit) {
            let bound = limit.at_least.iter().chain(&limit.at_most).next();
            let other = bound.filter(|bound| bound.dimension != ends.0.dimension);
            if let Some(bound) = other {
                other_kind((&ends.0, head(range)), (bound, key.span), lower);
            } else if !encloses(&ends, (&limit.at_least, &limit.at_most)) {
                not_plausible(head(range), key.span, lower);
            }
        }
        Some(ends)
    });
    Some(NamedLimit {
        criterion: criterion?,
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

/// A limit and its plausible range that do not measure the same: which is the slip, nobody can tell.
fn other_kind(
    (from, range): (&Quantity, Span),
    (bound, limit): (&Quantity, Span),
    lower: &mut Lower<'_>,
) {
    let headline = format!(
        "the plausible range is {}, and the limit is {}",
        from.dimension.noun(),
        bound.dimension.noun()
    );
    lower.report(
        Diagnostic::error(Code::BadLimit, range, headline)
            .related(limit, "the limit")
            .help("give both the unit of what is measured"),
    );
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
    use crate::equipment::model::PlateFault;
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
        assert_eq!(backlash.criterion.limit.unit, Unit::Millimetre);
        assert_eq!(
            backlash.plausible.as_ref().unwrap().1,
            Quantity::parse_literal("3 mm").unwrap().0
        );
        assert_eq!(equipment.constants[&figure("flush.at_most")].value, Quantity::whole(3));
        assert!(equipment.is_for("000100") && !equipment.is_for("0100"));
    }

    const CODED: &str = "format: \"1.0\"\nequipment: press\ntitle: Press\nrevision: 1\n\
        effective: 2026-01-01\nrevisions: [{revision: 1, date: 2026-01-01, by: m.dube, why: First}]\n\
        settings: {seal: [epdm, nbr], ring: [fitted, none], oil: [mineral, glycol]}\n";

    fn coded(plate: &str) -> (Option<Equipment>, Vec<Diagnostic>) {
        let text = format!("{CODED}name_plate:\n  code:\n{plate}");
        read(FileId(0), &Source::new("e", text))
    }

    #[test]
    fn pc3_a_code_decodes_to_settings_or_says_which_characters_do_not() {
        let (equipment, found) = coded(
            "  - {at: 2, length: 2, means: {EP: {seal: epdm}, NB: {seal: nbr}}}\n  \
             - {at: 5, means: {A: {ring: fitted, oil: mineral}, Z: {ring: none, oil: glycol}}}\n",
        );
        assert_eq!(found, []);
        let equipment = equipment.unwrap();
        let said = |code: &str| {
            equipment.build(code).map(|settings| {
                settings.iter().map(|(s, c)| format!("{s} {c}")).collect::<Vec<_>>().join(", ")
            })
        };
        assert_eq!(said("7EP-A").unwrap(), "oil mineral, ring fitted, seal epdm");
        assert_eq!(said("7EP-"), Err(PlateFault::Length { found: 4, wanted: 5 }));
        let found = said("7EX-A").unwrap_err();
        let known = vec!["EP".to_owned(), "NB".to_owned()];
        assert_eq!(found, PlateFault::Characters { at: 2, found: "EX".to_owned(), known });
        let codes: Vec<String> = equipment.builds().into_iter().map(|(code, _)| code).collect();
        assert_eq!(codes, ["-EP-A", "-EP-Z", "-NB-A", "-NB-Z"]);
        for code in codes {
            assert!(equipment.build(&code).is_ok(), "{code}");
        }
    }

    #[test]
    fn a_code_says_every_setting_once_and_its_parts_share_no_character() {
        let told = |plate: &str| -> Vec<String> {
            coded(plate).1.into_iter().map(|fault| fault.headline).collect()
        };
        assert_eq!(
            told("  - {at: 1, length: 2, means: {EP: {seal: epdm}, K: {seal: nbr}}}\n"),
            [
                "the code does not always say what `ring` is, and just once",
                "the code does not always say what `oil` is, and just once",
                "`K` is not 2 characters long",
            ]
        );
        let all = "ring: fitted, oil: mineral";
        assert_eq!(
            told(&format!(
                "  - {{at: 1, length: 2, means: {{EP: {{seal: epdm, {all}}}}}}}\n  \
                 - {{at: 2, means: {{A: {{seal: epdm}}}}}}\n"
            )),
            [
                "the code does not always say what `seal` is, and just once",
                "character 2 of the code belongs to two parts",
            ]
        );
        assert_eq!(
            told("  - {at: 1, means: {A: {seal: epdmm, ring: fitted, oil: mineral}}}\n"),
            ["`epdmm` is not one of the choices of this setting"]
        );
    }
}
