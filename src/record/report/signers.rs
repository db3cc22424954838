//! Who signed, and for what: signatures that lapsed do not count.

use std::collections::BTreeSet;

use serde::Serialize;

use super::findings::what;
use super::index::{Index, with_place};
use super::words::{self, count, position, short};
use crate::ids::Moment;
use crate::record::completion::Signature;

/// A person with everything that they signed for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Signer {
    pub(super) name: String,
    pub(super) roles: String,
    pub(super) says: Vec<String>,
    /// The last signature.
    pub(super) at: String,
}

/// One signature, for the table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Signed {
    /// The entry; none for the signature over the record.
    pub(super) n: Option<u64>,
    pub(super) who: String,
    pub(super) role: String,
    pub(super) says: String,
    /// What it is about, for people.
    pub(super) about: String,
    pub(super) at: String,
    /// The entry that made it worthless.
    pub(super) lapsed_by: Option<u64>,
}

impl Signed {
    /// When, for people.
    pub(super) fn when(&self) -> String {
        Moment::parse(&self.at).map_or_else(|| self.at.clone(), Moment::spoken)
    }
}

/// Every signature in the journal, then the one over the record.
pub(super) fn all(index: &Index<'_>) -> Vec<Signed> {
    let record = index.record;
    let one = |signature: &Signature| Signed {
        n: Some(signature.n),
        who: index.name(&signature.signer).to_owned(),
        role: signature.role.clone(),
        says: words::signed(&signature.says),
        about: signature.address.as_deref().map_or_else(String::new, |at| index.place(at)),
        at: signature.at.clone(),
        lapsed_by: record.lapsed.iter().find(|l| l.n == signature.n).map(|l| l.by_n),
    };
    let mut all: Vec<Signed> = record.signatures.iter().map(one).collect();
    all.push(Signed {
        n: None,
        who: index.name(&record.release.signer).to_owned(),
        role: record.release.role.clone(),
        says: "releases the job".to_owned(),
        about: "the whole record".to_owned(),
        at: record.release.at.clone(),
        lapsed_by: None,
    });
    all
}

/// Who signed, in the order of their first entry, with what each signature means.
pub(super) fn signers(index: &Index<'_>) -> Vec<Signer> {
    let record = index.record;
    let lapsed: BTreeSet<u64> = record.lapsed.iter().map(|lapsed| lapsed.n).collect();
    let release = &record.release;
    let signer = |id: &str, name: &str, roles: &[String]| {
        let own: Vec<&Signature> = record
            .signatures
            .iter()
            .filter(|signature| signature.signer == id && !lapsed.contains(&signature.n))
            .collect();
        let n_lapsed = record.signatures.iter().filter(|s| s.signer == id).count() - own.len();
        let mut meanings: Vec<&str> = Vec::new();
        for signature in &own {
            if !meanings.contains(&signature.meaning.as_str()) {
                meanings.push(&signature.meaning);
            }
        }
        let of = |meaning: &str| own.iter().filter(|s| s.meaning == meaning).copied().collect();
        let mut says: Vec<String> =
            meanings.iter().filter_map(|meaning| said(index, meaning, &of(meaning))).collect();
        let mut at = own.last().map_or_else(String::new, |signature| signature.at.clone());
        if release.signer == id {
            says.push(format!("released the job as {}", release.role));
            at.clone_from(&release.at);
        }
        if n_lapsed > 0 && !says.is_empty() {
            let lapsed = count(n_lapsed, "other signature", "other signatures");
            says.push(format!("{lapsed} lapsed by corrections"));
        }
        (!says.is_empty()).then(|| Signer {
            name: name.to_owned(),
            roles: roles.join(", "),
            says,
            at,
        })
    };
    let people = record.people.iter();
    people.filter_map(|person| signer(&person.id, &person.name, &person.roles)).collect()
}

/// What the signatures of one meaning say; nothing for those that only begin a person's work.
fn said(index: &Index<'_>, meaning: &str, own: &Vec<&Signature>) -> Option<String> {
    let many = |one: &str, more: &str| count(own.len(), one, more);
    Some(match meaning {
        "identified" => return None,
        "performed" => "signed for the work that they carried out".to_owned(),
        "decided" => {
            format!("decided {}{}", many("doubtful result", "doubtful results"), about(index, own))
        }
        "hold_released" => format!("released {}", many("hold point", "hold points")),
        "resumed" => format!("let the work go on after {}", many("stop", "stops")),
        "deviated" => format!(
            "let {} be left out or done otherwise than written{}",
            many("step", "steps"),
            about(index, own)
        ),
        "disposed" => {
            let n = many("failed result", "failed results");
            format!("stated what was done about {n}{}", about(index, own))
        }
        "conceded" => format!(
            "put another verdict in the place of that of the rules for {}{}",
            many("result", "results"),
            about(index, own)
        ),
        other => format!("signed {}", many(other, other)),
    })
}

/// So many results are named.
const NAMED_MAX: usize = 2;

/// Which results: what was found there, in a few words.
fn about(index: &Index<'_>, own: &[&Signature]) -> String {
    let mut named: Vec<String> = Vec::new();
    for signature in own {
        let Some(step) = signature.address.as_deref().and_then(|at| index.step(at)) else {
            continue;
        };
        let step = index.inspected(step).unwrap_or(step);
        let words = match step.answer {
            crate::record::completion::Answer::Found(_) => what(step),
            _ => step.text.clone(),
        };
        let words = words.trim_end_matches('.');
        let told = with_place(&format!("“{}”", short(words, 30)), &position(&step.address));
        if !named.contains(&told) {
            named.push(told);
        }
    }
    let n_more = named.len().saturating_sub(NAMED_MAX);
    named.truncate(NAMED_MAX);
    if n_more > 0 {
        named.push(format!("{n_more} more"));
    }
    if named.is_empty() { String::new() } else { format!(": {}", named.join("; ")) }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::sample::{full, parsed};
    use super::*;

    #[test]
    fn signatures_that_lapsed_are_marked_and_do_not_count() {
        let mut value = full();
        let hold = |n: u64| {
            json!({"address": "hold", "at": "at", "meaning": "hold_released", "n": n,
                "role": "mechanic", "says": "releases the hold", "signer": "i.varga"})
        };
        value["signatures"] = json!([hold(30), hold(32)]);
        value["lapsed"] = json!([{"address": "hold", "by_n": 31, "n": 30}]);
        let record = parsed(&value);
        let index = Index::of(&record);
        let lapsed: Vec<Option<u64>> = all(&index).iter().map(|signed| signed.lapsed_by).collect();
        assert_eq!(lapsed, [Some(31), None, None]);
        let says = signers(&index).remove(0).says;
        assert_eq!(says, ["released 1 hold point", "1 other signature lapsed by corrections"]);
    }
}
