//! stub
use super::completion::{Record, RecordFault};
/// Why.
#[derive(Debug, thiserror::Error)]
pub enum ReportFault {
    /// Not a record.
    #[error(transparent)]
    Record(#[from] RecordFault),
}
/// Page.
pub fn render(record: &[u8]) -> Result<String, ReportFault> {
    Record::parse(record)?;
    Ok(String::new())
}
