//! `calc`: a named calculation at the command line, its working on paper, and what it says of itself.

use super::out::Out;
use super::report::{Failure, Kind};
use super::{CalcArguments, exit};
use crate::calc::{self, CalcRefusal, Calculation, Inputs};
use crate::canonical;

/// What the working says of figures that were typed behind the command.
const FROM: &str = "as given";

pub(super) fn run(arguments: &CalcArguments, out: Out) -> Result<u8, Failure> {
    let Some(name) = &arguments.name else {
        list(arguments.json, out);
        return Ok(exit::OK);
    };
    let calculation = calc::named(name)
        .map_err(|refusal| failure(&refusal, "`witnessmark calc` lists all calculations"))?;
    if arguments.explain {
        if arguments.json {
            out.line(&canonical::to_line(&calculation.json()));
        } else {
            out.line(&calculation.explain());
        }
        return Ok(exit::OK);
    }
    let hint = format!("`witnessmark calc {} --explain` says what it takes", calculation.name);
    let working = worked_out(calculation, &arguments.given).map_err(|fault| match fault {
        Fault::Refused(refusal) => failure(&refusal, &hint),
        Fault::NoPair(text) => Failure::usage(format!(
            "`{text}` is not an input; inputs are written `name=value`, such as `{}`",
            example(calculation)
        ))
        .hint(hint.clone()),
    })?;
    if arguments.json {
        out.line(&canonical::to_line(&working.json()));
    } else {
        out.line(&working.text());
    }
    Ok(exit::OK)
}

enum Fault {
    Refused(CalcRefusal),
    NoPair(String),
}

fn worked_out(calculation: &Calculation, given: &[String]) -> Result<calc::Working, Fault> {
    let pairs = given.iter().map(|text| {
        text.split_once('=')
            .map(|(name, value)| (name.trim(), value))
            .ok_or_else(|| Fault::NoPair(text.clone()))
    });
    let pairs: Vec<(&str, &str)> = pairs.collect::<Result<_, _>>()?;
    let inputs = Inputs::read(calculation, pairs, FROM).map_err(Fault::Refused)?;
    calc::run(calculation, &inputs).map_err(Fault::Refused)
}

/// One input of the example, as it is typed.
fn example(calculation: &Calculation) -> String {
    calculation
        .example
        .first()
        .map_or_else(|| "name=value".to_owned(), |(name, text)| format!("{name}=\"{text}\""))
}

fn failure(refusal: &CalcRefusal, hint: &str) -> Failure {
    let kind = match refusal {
        CalcRefusal::NoSuch { .. }
        | CalcRefusal::Unknown { .. }
        | CalcRefusal::Twice(_)
        | CalcRefusal::Missing { .. } => Kind::Usage,
        CalcRefusal::Together(_)
        | CalcRefusal::Unreadable { .. }
        | CalcRefusal::WrongDimension { .. }
        | CalcRefusal::WrongShape { .. }
        | CalcRefusal::Word { .. }
        | CalcRefusal::Outside { .. }
        | CalcRefusal::Impossible(_)
        | CalcRefusal::NotFinite(_) => Kind::Refused,
    };
    Failure::new(kind, refusal.to_string()).hint(hint)
}

fn list(json: bool, out: Out) {
    if json {
        let all: Vec<_> = calc::ALL.iter().map(|calculation| calculation.json()).collect();
        out.line(&canonical::to_line(&all));
        return;
    }
    let width = calc::ALL.iter().map(|calculation| calculation.name.len()).max().unwrap_or(0);
    for calculation in calc::ALL {
        out.line(&format!("{:width$}  {}", calculation.name, calculation.title));
    }
    out.line("");
    out.line(
        "`witnessmark calc NAME --explain` says what one takes and gives, with an example to try.",
    );
}
