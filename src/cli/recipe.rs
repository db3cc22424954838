//! `recipe`: the shell lines with which anybody checks a finished job without this program.

use super::out::Out;
use super::report::{Failure, Kind};
use super::{ShopArgument, exit, report_job};
use crate::record::completion::Record;

pub(super) fn run(job: &str, shop: &ShopArgument, out: Out) -> Result<u8, Failure> {
    let bytes = report_job::record(&report_job::folder(job, shop)?)?;
    let record = Record::parse(&bytes).map_err(|f| Failure::new(Kind::Damaged, f.to_string()))?;
    let id = super::parse_job(&record.job)?;
    out.raw(&crate::record::recipe(&id));
    Ok(exit::OK)
}
