//! Reads OpenSSH `allowed_signers`, as stock ssh-keygen does: whether a line lets a key sign.
//!
//! Days and times are taken in UTC only (`…Z`): a time without it means the reader's own zone, and one
//! list must not mean two things. Such a line allows nothing here.

use chrono::{DateTime, NaiveDateTime, Utc};

use crate::record::key::PublicKey;

/// What a signature claims.
#[derive(Debug, Clone, Copy)]
pub struct Claimed<'a> {
    /// Who.
    pub principal: &'a str,
    /// For what purpose.
    pub namespace: &'a str,
    /// With which key.
    pub key: &'a PublicKey,
    /// When.
    pub at: DateTime<Utc>,
}

/// True when a line of the list allows what is claimed. Lines that cannot be read allow nothing.
pub fn allows(list: &str, claimed: &Claimed<'_>) -> bool {
    list.lines().any(|line| line_allows(line, claimed).unwrap_or(false))
}

fn line_allows(line: &str, claimed: &Claimed<'_>) -> Option<bool> {
    let line = line.trim_start_matches([' ', '\t']);
    if line.is_empty() || line.starts_with('#') {
        return None;
    }
    let (principals, rest) = field(line)?;
    let (options, rest) = match key(rest) {
        Some(_) => ("", rest),
        None => field(rest)?,
    };
    let is_match = key(rest)? == *claimed.key && matches(claimed.principal, unquoted(principals));
    Some(is_match && options_allow(options, claimed)?)
}

/// The next field and what follows it; blanks between quotes belong to the field.
fn field(text: &str) -> Option<(&str, &str)> {
    let mut quoted = false;
    let end = text.char_indices().find(|(_, letter)| {
        quoted ^= *letter == '"';
        !quoted && matches!(letter, ' ' | '\t')
    });
    let (field, rest) = text.split_at_checked(end.map_or(text.len(), |(at, _)| at))?;
    (!field.is_empty()).then(|| (field, rest.trim_start_matches([' ', '\t'])))
}

fn unquoted(field: &str) -> &str {
    field.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(field)
}

fn key(text: &str) -> Option<PublicKey> {
    let words: Vec<&str> = text.split_ascii_whitespace().take(2).collect();
    PublicKey::parse(&words.join(" ")).ok()
}

/// `None` for options that are not known, or known and cannot be read.
fn options_allow(options: &str, claimed: &Claimed<'_>) -> Option<bool> {
    let mut rest = options;
    while !rest.is_empty() {
        let end = rest.find(['=', ',']).unwrap_or(rest.len());
        let (name, after) = rest.split_at_checked(end)?;
        let (value, after) = match after.strip_prefix("=\"") {
            Some(quoted) => {
                let (value, after) = quoted.split_once('"')?;
                (Some(value), after)
            }
            None => (None, after),
        };
        let is_so = match (name.to_ascii_lowercase().as_str(), value) {
            ("namespaces", Some(list)) => matches(claimed.namespace, list),
            ("valid-after", Some(time)) => claimed.at >= moment(time)?,
            ("valid-before", Some(time)) => claimed.at <= moment(time)?,
            // Certificates are not used here, and a plain key is none.
            ("cert-authority", None) => false,
            _ => return None,
        };
        if !is_so {
            return Some(false);
        }
        rest = match after.strip_prefix(',') {
            Some(more) if !more.is_empty() => more,
            None if after.is_empty() => after,
            _ => return None,
        };
    }
    Some(true)
}

fn moment(text: &str) -> Option<DateTime<Utc>> {
    let digits = text.strip_suffix(['Z', 'z'])?;
    let whole = match digits.len() {
        8 => format!("{digits}000000"),
        12 => format!("{digits}00"),
        14 => digits.to_owned(),
        _ => return None,
    };
    Some(NaiveDateTime::parse_from_str(&whole, "%Y%m%d%H%M%S").ok()?.and_utc())
}

/// A list of patterns with commas; `!` in front of one excludes, and wins.
fn matches(text: &str, list: &str) -> bool {
    let mut is_in = false;
    for pattern in list.split(',') {
        match pattern.strip_prefix('!') {
            Some(pattern) if is_like(text.as_bytes(), pattern.as_bytes()) => return false,
            Some(_) => {}
            None => is_in |= is_like(text.as_bytes(), pattern.as_bytes()),
        }
    }
    is_in
}

/// `*` stands for any bytes, `?` for one. Goes back to the last `*` only, so that no pattern is slow.
fn is_like(text: &[u8], pattern: &[u8]) -> bool {
    let (mut at, mut in_pattern) = (0usize, 0usize);
    let mut back: Option<(usize, usize)> = None;
    loop {
        match (text.get(at), pattern.get(in_pattern)) {
            (_, Some(b'*')) => {
                in_pattern = in_pattern.saturating_add(1);
                back = Some((at, in_pattern));
                continue;
            }
            (None, None) => return true,
            (Some(byte), Some(wanted)) if *wanted == b'?' || byte == wanted => {
                at = at.saturating_add(1);
                in_pattern = in_pattern.saturating_add(1);
                continue;
            }
            _ => {}
        }
        let Some((from, star)) = back.filter(|(from, _)| *from < text.len()) else { return false };
        at = from.saturating_add(1);
        in_pattern = star;
        back = Some((at, star));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_match_as_in_openssh() {
        for (text, pattern, wanted) in [
            ("t.reiter", "*", true),
            ("t.reiter", "t.*", true),
            ("t.reiter", "?.reiter", true),
            ("t.reiter", "*.rei*r", true),
            ("t.reiter", "t.reite", false),
            ("t.reiter", "i.*,t.reiter", true),
            ("t.reiter", "*,!t.reiter", false),
            ("t.reiter", "!i.varga", false),
            ("aaaaaaaaaaaaaaaaaaaaaab", "*a*a*a*a*a*a*c", false),
        ] {
            assert_eq!(matches(text, pattern), wanted, "{text} {pattern}");
        }
    }
}
