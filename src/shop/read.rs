//! Reading a shop file: values are taken, and held against each other.

use super::model::{Instrument, Loads, Machine, Person, Shop, ShopKind};
use crate::diag::{Code, Diagnostic};
use crate::ids::{PersonId, Role};
use crate::language::take::{self, Lower, each, optional};
use crate::language::{self, FileKind};
use crate::source::{At, FileId, Source, Span};
use crate::units::Quantity;
use crate::yaml::Node;

/// Reads a shop file. It is there only without errors; warnings may come with it.
pub fn read(file: FileId, source: &Source) -> (Option<Shop>, Vec<Diagnostic>) {
    language::read((file, source), FileKind::Shop, shop)
}

/// The same, of a text that was parsed already, with what was wrong with it as such.
pub fn read_tree(
    file: FileId,
    source: &Source,
    parsed: (&Node, Vec<Diagnostic>),
) -> (Option<Shop>, Vec<Diagnostic>) {
    language::read_tree((file, source), parsed, FileKind::Shop, shop)
}

fn shop(root: &Node, lower: &mut Lower<'_>) -> Option<Shop> {
    unique(root.get("people"), "id", "people", lower);
    unique(root.get("people"), "key", "people", lower);
    unique(root.get("instruments"), "id", "instruments", lower);
    unique(root.get("machines"), "tag", "machines", lower);
    let people = each(root.get("people"), |node| person(node, lower));
    let instruments = each(root.get("instruments"), |node| instrument(node, lower));
    let machines = each(root.get("machines"), machine);
    Some(Shop {
        id: take::name(root.get("shop")?)?.value,
        title: take::text(root.get("title")?)?,
        revision: take::revision(root.get("revision")?)?,
        kind: match root.get("kind")?.text()? {
            "record" => ShopKind::Record,
            "demo" => ShopKind::Demo,
            _ => return None,
        },
        people: people?,
        instruments: instruments?,
        machines: machines?,
    })
}

/// No two rows of a list share what `key` gives.
fn unique(list: Option<&Node>, key: &str, what: &str, lower: &mut Lower<'_>) {
    let rows = list.map_or(&[][..], Node::items).iter();
    let values: Vec<At<String>> = rows.filter_map(|row| take::text_at(row.get(key)?)).collect();
    lower.unique(&values, what);
}

fn person(node: &Node, lower: &mut Lower<'_>) -> Option<Person> {
    let day = |key: &str| node.get(key).and_then(take::date);
    let (from, until) = (day("qualified_from"), day("qualified_until"));
    if let (Some(from), Some(until), Some(at)) = (from, until, node.get("qualified_until"))
        && from > until
    {
        let headline = format!("{until} is before {from}, the first day of qualification");
        lower.error(Code::BadValue, at.span, headline, "look at the two days");
    }
    Some(Person {
        id: PersonId::new(node.get("id")?.text()?).ok()?,
        name: take::text(node.get("name")?)?,
        roles: each(node.get("roles"), |role| Role::parse(role.text()?))?,
        key: take::text(node.get("key")?)?,
        qualified_from: from?,
        qualified_until: until?,
        certificate: optional(node.get("certificate"), take::text)?,
        revoked: optional(node.get("revoked"), take::date)?,
        language: optional(node.get("language"), take::name)?.map(|name| name.value),
        span: node.span,
    })
}

fn instrument(node: &Node, lower: &mut Lower<'_>) -> Option<Instrument> {
    let range = node.get("range").and_then(|range| lower.range(range));
    let mut like_range = |key: &str| {
        let (value, _) = take::figure(node.get(key)?)?;
        let at = node.get(key)?.span;
        figure_fits(key, (&value, at), range.as_ref().map(|(from, _)| from), lower);
        Some(value)
    };
    let (resolution, uncertainty) = (like_range("resolution"), like_range("uncertainty"));
    let zero_check = optional(node.get("zero_check"), |_| like_range("zero_check"))?;
    Some(Instrument {
        id: take::text(node.get("id")?)?,
        kind: take::name(node.get("kind")?)?.value,
        title: take::text(node.get("title")?)?,
        range: range?,
        resolution: resolution?,
        uncertainty: uncertainty?,
        k: take::text(node.get("k")?)?,
        calibration_due: take::date(node.get("calibration_due")?)?,
        certificate: take::text(node.get("certificate")?)?,
        certificate_sha256: optional(node.get("certificate_sha256"), take::text)?,
        zero_check,
        loads: optional(node.get("loads"), |loads| {
            let so_far = optional(loads.get("so_far"), take::number)?;
            let at_most = take::number(loads.get("at_most")?)?;
            Some(Loads { so_far: so_far.unwrap_or(0), at_most })
        })?,
        out_of_use: optional(node.get("out_of_use"), take::text)?,
        span: node.span,
    })
}

fn figure_fits(
    key: &str,
    (value, span): (&Quantity, Span),
    from: Option<&Quantity>,
    lower: &mut Lower<'_>,
) {
    // Steps and uncertainties are differences: of a thermometer in kelvin, of a gauge in bar.
    let step = from.and_then(|from| from.dimension.minus(from.dimension));
    if step.is_some_and(|step| step != value.dimension) {
        let headline = format!("`{key}` measures something else than the instrument's range");
        let fault = Diagnostic::error(Code::DimensionMismatch, span, headline);
        lower.report(fault.help(
            "give it a unit of the same kind as the range; a difference for temperatures and \
             pressures, such as `0.1 ΔK` or `0.05 bar diff`",
        ));
    } else if value.si < num_traits::Zero::zero() {
        let headline = format!("`{key}` cannot be negative");
        lower.error(Code::BadFigure, span, headline, "delete the minus sign");
    }
}

fn machine(node: &Node) -> Option<Machine> {
    Some(Machine {
        tag: take::text(node.get("tag")?)?,
        equipment: take::name(node.get("equipment")?)?.value,
        serial: take::text(node.get("serial")?)?,
        fit_out: optional(node.get("fit_out"), take::text)?,
        title: take::text(node.get("title")?)?,
        span: node.span,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_instruments_and_machines_are_read_as_written() {
        let text = include_str!("../../tests/fixtures/language/good/shop_full.yaml");
        let (shop, found) = read(FileId(0), &Source::new("s", text));
        assert_eq!(found, []);
        let shop = shop.unwrap();
        assert_eq!(shop.kind, ShopKind::Demo);
        assert_eq!(shop.people[1].name, "Marc Dubé");
        assert_eq!(shop.people[1].roles, [Role::Mechanic, Role::Author]);
        assert_eq!(shop.instruments[0].k, "2");
        assert_eq!(shop.instruments[0].range.0, Quantity::parse_literal("0 mm").unwrap().0);
        assert_eq!(shop.machines[0].serial, "000417");
    }
}
