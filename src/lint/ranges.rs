//! Figures in texts that leave arithmetic to the reader: `200 N·m ± 4 %`.
//!
//! Exact decimals; where the figures are too long to be exact, nothing is offered.

use super::lexicon::{UNITS, is_number};
use super::passage::Passage;
use crate::diag::{Code, Diagnostic};

/// A decimal: `digits / 10^places`.
#[derive(Debug, Clone, Copy)]
struct Decimal {
    digits: i128,
    places: u32,
}

impl Decimal {
    fn parse(text: &str) -> Option<Self> {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let n_digits = whole.len() + part.len();
        if n_digits == 0 || n_digits > 15 {
            return None;
        }
        let digits = format!("{whole}{part}").parse().ok()?;
        Some(Self { digits, places: u32::try_from(part.len()).ok()? })
    }

    /// `self · (100 + by) / 100`, the sign of `by` taken from `sign`.
    fn changed_by_percent(self, by: Self, sign: i128) -> Self {
        let hundred = 100 * 10_i128.pow(by.places);
        Self {
            digits: self.digits * (hundred + sign * by.digits),
            places: self.places + by.places + 2,
        }
    }

    /// `self + by`, the sign of `by` taken from `sign`.
    fn changed_by(self, by: Self, sign: i128) -> Self {
        let places = self.places.max(by.places);
        let at = |d: Self| d.digits * 10_i128.pow(places - d.places);
        Self { digits: at(self) + sign * at(by), places }
    }

    fn text(mut self) -> String {
        while self.places > 0 && self.digits % 10 == 0 {
            self.digits /= 10;
            self.places -= 1;
        }
        let sign = if self.digits < 0 { "-" } else { "" };
        let places = self.places as usize;
        let digits = format!("{:0>width$}", self.digits.abs(), width = places + 1);
        let (whole, part) = digits.split_at(digits.len() - places);
        if part.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") }
    }
}

/// The tokens of a text, `±` and `%` on their own even where no blank stands beside them.
fn tokens(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut start = None;
    for (at, c) in text.char_indices() {
        let alone = c == '±' || c == '%';
        if (alone || c.is_whitespace())
            && let Some(from) = start.take()
        {
            found.push((from, text.get(from..at).unwrap_or("")));
        }
        if alone {
            found.push((at, text.get(at..at + c.len_utf8()).unwrap_or("")));
        } else if !c.is_whitespace() && start.is_none() {
            start = Some(at);
        }
    }
    if let Some(from) = start {
        found.push((from, text.get(from..).unwrap_or("")));
    }
    found
}

/// Reports every `±` between two figures, with the range that it means.
pub(super) fn check(passage: &Passage<'_>, found: &mut Vec<Diagnostic>) {
    if !passage.text.contains('±') {
        return;
    }
    let tokens = tokens(&passage.text);
    for (i, (at, token)) in tokens.iter().enumerate() {
        if *token == "±" {
            found.push(range(passage, &tokens, i, *at));
        }
    }
}

fn bare(token: &str) -> &str {
    token.trim_matches(|c: char| !c.is_alphanumeric() && c != '°' && c != '%')
}

fn is_unit(token: &str) -> bool {
    UNITS.contains(&&*bare(token).to_lowercase())
}

fn range(passage: &Passage<'_>, tokens: &[(usize, &str)], i: usize, at: usize) -> Diagnostic {
    let token = |at: Option<usize>| at.and_then(|at| tokens.get(at)).copied();
    let before = token(i.checked_sub(1));
    let unit_first = before.is_some_and(|(_, text)| is_unit(text));
    let nominal = token(i.checked_sub(if unit_first { 2 } else { 1 }));
    let by = token(Some(i + 1));
    let percent = token(Some(i + 2)).is_some_and(|(_, text)| text == "%");
    let unit_at = i + if percent { 3 } else { 2 };
    let unit_behind = token(Some(unit_at)).filter(|(_, text)| is_unit(text));
    let headline = "this leaves the reader to work out the range in the head";
    let fault = |start: usize, end: usize| {
        Diagnostic::warning(Code::NominalAndTolerance, passage.at(&(start..end)), headline)
    };
    let read = || {
        let (start, nominal) = nominal?;
        let (by_at, by) = by?;
        let by = bare(by);
        if !is_number(nominal) || !is_number(by) {
            return None;
        }
        let (nominal, width) = (Decimal::parse(nominal)?, Decimal::parse(by)?);
        let ends = if percent {
            [nominal.changed_by_percent(width, -1), nominal.changed_by_percent(width, 1)]
        } else {
            [nominal.changed_by(width, -1), nominal.changed_by(width, 1)]
        };
        let (mut end, mut unit) = (by_at + by.len(), String::new());
        if percent {
            end = token(Some(i + 2))?.0 + 1;
        }
        if let Some((unit_at, text)) = unit_behind {
            end = unit_at + bare(text).len();
            unit = format!(" {}", bare(text));
        } else if let (true, Some((_, text))) = (unit_first, before) {
            unit = format!(" {text}");
        }
        Some((start, end, format!("{} to {}{unit}", ends[0].text(), ends[1].text())))
    };
    match read() {
        Some((start, end, range)) => {
            let diagnostic = fault(start, end).help(format!("write `{range}`"));
            if passage.can_be_edited() {
                diagnostic.fix(passage.at(&(start..end)), range)
            } else {
                diagnostic
            }
        }
        None => fault(at, at + '±'.len_utf8())
            .help("write the least and the greatest figure, with the unit of the instrument"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_exact() {
        let d = |text| Decimal::parse(text).unwrap();
        for (nominal, by, low, high) in [
            ("200", "4", "192", "208"),
            ("0.05", "10", "0.045", "0.055"),
            ("33", "2.5", "32.175", "33.825"),
        ] {
            assert_eq!(d(nominal).changed_by_percent(d(by), -1).text(), low);
            assert_eq!(d(nominal).changed_by_percent(d(by), 1).text(), high);
        }
        assert_eq!(d("20").changed_by(d("0.5"), -1).text(), "19.5");
        assert_eq!(d("0.1").changed_by(d("0.25"), -1).text(), "-0.15");
    }

    #[test]
    fn marks_stand_alone() {
        let told: Vec<_> = tokens("to 200±4% now").into_iter().map(|(_, t)| t).collect();
        assert_eq!(told, ["to", "200", "±", "4", "%", "now"]);
    }
}
