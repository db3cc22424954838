//! The roster as an OpenSSH `allowed_signers` file, so that stock ssh-keygen applies the same rules.
//!
//! A copy for strangers; this program itself asks [`super::roster`].

pub mod read;

use chrono::{Days, NaiveDate};

use super::key::PublicKey;
use super::namespaces::{Namespace, SHOP_PRINCIPAL};
use crate::shop::model::{Person, Shop};

/// Writes the roster as `allowed_signers`: a line for the shop key and one a person, restricted to
/// the namespaces of their roles and the days of their qualification.
///
/// The days need OpenSSH 9.1 or later, which first read a time in UTC (`…Z`). ssh-keygen counts
/// days in UTC where this program counts them in the shop, so within a time zone's hours of
/// midnight on the first and last day the two can differ.
pub fn allowed_signers(shop: &Shop, shop_key: &PublicKey) -> String {
    let mut lines = vec![
        format!("# allowed_signers of the shop `{}`, roster revision {}", shop.id, shop.revision),
        "# for `ssh-keygen -Y verify -f THIS_FILE -I PERSON -n NAMESPACE -Overify-time=… -s SIG`"
            .to_owned(),
        "# needs OpenSSH 9.1 or later; days are counted in UTC here".to_owned(),
        line(SHOP_PRINCIPAL, Namespace::is_the_shops, None, shop_key),
    ];
    lines.extend(shop.people.iter().map(person_line));
    lines.push(String::new());
    lines.join("\n")
}

fn person_line(person: &Person) -> String {
    let id = &person.id;
    if id.as_str() == SHOP_PRINCIPAL {
        return format!("# left out: `{id}` stands for the shop key and cannot be a person");
    }
    if let Some(revoked) = person.revoked {
        return format!("# left out: {id}, whose key was revoked on {revoked}");
    }
    if person.roles.is_empty() {
        return format!("# left out: {id}, who has no role");
    }
    let Ok(key) = PublicKey::parse(&person.key) else {
        return format!("# left out: {id}, whose key cannot be used");
    };
    let theirs =
        |namespace: Namespace| namespace.roles().iter().any(|role| person.roles.contains(role));
    line(id.as_str(), theirs, Some((person.qualified_from, person.qualified_until)), &key)
}

fn line(
    principal: &str,
    may: impl Fn(Namespace) -> bool,
    days: Option<(NaiveDate, NaiveDate)>,
    key: &PublicKey,
) -> String {
    let namespaces: Vec<&str> =
        Namespace::ALL.into_iter().filter(|n| may(*n)).map(Namespace::text).collect();
    let days = days.map_or_else(String::new, |(from, until)| {
        // The last day counts in full. The calendar's own last day has none after it.
        let end = until.checked_add_days(Days::new(1)).unwrap_or(until);
        format!(",valid-after=\"{}\",valid-before=\"{}\"", midnight(from), midnight(end))
    });
    format!("{principal} namespaces=\"{}\"{days} {key}", namespaces.join(","))
}

fn midnight(day: NaiveDate) -> String {
    day.format("%Y%m%d000000Z").to_string()
}

#[cfg(test)]
mod tests {
    use super::super::roster::tests::{pair, shop};
    use super::*;

    #[test]
    fn the_list_restricts_each_person_to_their_roles_and_days() {
        let key = pair("shop").public();
        let text = allowed_signers(&shop(), &key);
        let of = |principal: &str| {
            text.lines().find(|line| line.starts_with(&format!("{principal} "))).unwrap_or("")
        };
        let days = "valid-after=\"20260101000000Z\",valid-before=\"20270101000000Z\"";
        assert_eq!(
            of("t.lehrling"),
            format!(
                "t.lehrling namespaces=\"session.v1@witnessmark,performed.v1@witnessmark\",{days} {}",
                pair("t.lehrling").public()
            )
        );
        assert!(of("a.writer").contains("namespaces=\"session.v1@witnessmark\","));
        assert!(of("m.both").contains("release.v1@witnessmark,approval.v1@witnessmark\""));
        assert_eq!(
            of("shop"),
            format!("shop namespaces=\"roster.v1@witnessmark,approvals.v1@witnessmark\" {key}")
        );
        assert_eq!(of("o.past"), "");
        assert!(text.contains("# left out: o.past, whose key was revoked on 2026-06-01\n"));
        assert!(text.ends_with('\n'));
    }

    #[test]
    fn a_key_that_is_not_one_cannot_smuggle_in_a_line() {
        let mut shop = shop();
        shop.people[0].key = "ssh-ed25519 AAAA\n* ssh-ed25519 AAAA".into();
        shop.people[1].key = format!("{} x\n", pair("i.varga").public());
        shop.people[2].roles.clear();
        let text = allowed_signers(&shop, &pair("shop").public());
        assert!(!text.contains('*'));
        assert!(text.contains("# left out: t.lehrling, whose key cannot be used\n"));
        assert!(text.contains("# left out: m.both, who has no role\n"));
    }
}
