//! Reference values in CSV: lines that start with `#` are remarks, the first other line has the names.

/// One row, its fields by name.
pub(crate) struct Row(Vec<(String, String)>);

impl Row {
    /// The field as it stands; empty where nothing applies.
    pub(crate) fn text(&self, name: &str) -> &str {
        self.0
            .iter()
            .find(|(header, _)| header == name)
            .map(|(_, value)| value.as_str())
            .expect(name)
    }

    /// The field as a number, `None` where it is empty.
    pub(crate) fn figure(&self, name: &str) -> Option<f64> {
        let text = self.text(name);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{name}: `{text}`")))
    }

    /// The field as a number that must be there.
    pub(crate) fn number(&self, name: &str) -> f64 {
        self.figure(name).unwrap_or_else(|| panic!("{}: no {name}", self.name()))
    }

    /// The first field, which names the row.
    pub(crate) fn name(&self) -> &str {
        &self.0[0].1
    }
}

/// All rows of a file.
pub(crate) fn rows(csv: &str) -> Vec<Row> {
    let mut lines = csv.lines().filter(|line| !line.starts_with('#')).map(fields);
    let header = lines.next().expect("a header");
    lines
        .map(|fields| {
            assert_eq!(fields.len(), header.len(), "{fields:?}");
            Row(header.iter().cloned().zip(fields).collect())
        })
        .collect()
}

/// One line of CSV; a quoted field may hold commas and doubled quotes.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                fields.last_mut().expect("one field").push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => fields.last_mut().expect("one field").push(c),
        }
    }
    fields
}

/// Fails unless `got` is `want` within the relative tolerance.
#[track_caller]
pub(crate) fn close(got: f64, want: f64, rtol: f64, what: &str) {
    let miss = (got - want).abs();
    assert!(
        miss <= rtol * want.abs(),
        "{what}: {got} for {want}, off by {:.2e}",
        miss / want.abs()
    );
}
