//! Any text in any field: never a panic, and what is taken reads back as the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark::units::compare::stated_places;
use witnessmark::units::{Hint, Limit, Quantity, Reading, Tolerance, Turn, Uncertainty, Unit};

fuzz_target!(|entry: (u8, &str)| {
    let (field, text) = entry;
    let field = Unit::ALL[usize::from(field) % Unit::ALL.len()];
    if let Ok(reading) = Reading::parse(text, field) {
        let again = Reading::from_recorded(&reading.text, reading.unit.symbol());
        assert_eq!(again.as_ref(), Ok(&reading));

        // What is printed exactly is the same quantity.
        let printed = Reading::parse(&reading.value.render(field), field);
        if let Ok(printed) = printed {
            assert_eq!(printed.value, reading.value);
        }

        // A reading keeps to a limit that is the reading, and no slip explains it.
        let value = reading.value.clone();
        let limit = Limit::new(Some(value.clone()), Some(value.clone()), field).unwrap();
        let _ = (reading.echo(), limit.explain(&reading), limit.render());
        let thimble = Turn::thimble();
        assert!(Hint::all(&reading, (&value, &value), Some(&thimble)).is_empty());
        let zero = Quantity { si: &value.si - &value.si, dimension: value.dimension };
        for hint in Hint::all(&reading, (&zero, &zero), Some(&thimble)) {
            let _ = hint.words(&reading);
        }
    }
    let _ = Quantity::parse_literal(text).map(|(value, unit)| value.render(unit));
    let _ = Tolerance::parse_literal(text);
    let _ = Uncertainty::parse_literal(text, text);
    let _ = Unit::ambiguity(text).or_else(|| Unit::suggestion(text).map(str::to_owned));
    assert!(usize::from(stated_places(text)) <= text.len());
});
