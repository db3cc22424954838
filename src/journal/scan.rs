//! From a journal's bytes to its entries, with what may be wrong told apart.
//!
//! An unfinished last line is data: a power cut leaves one, and it was never shown as saved.
//! Anything else that is wrong is an error with the number of its line, and is never mended here.

use super::{JOURNAL_LEN_BYTES_MAX, LINE_LEN_BYTES_MAX, LineFault, decode};
use crate::ids::Sha256;
use crate::walk::Entry;

/// The least piece that a disk writes or loses as a whole.
const SECTOR_LEN_BYTES: usize = 512;

/// One whole line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScannedLine {
    /// Its entry.
    pub entry: Entry,
    /// The hash of the line before.
    pub prev: Sha256,
    /// Its own hash.
    pub hash: Sha256,
    /// Where it starts in the journal.
    pub offset: usize,
}

/// How the journal ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tail {
    /// With a whole line, or it is empty.
    Whole,
    /// With a whole entry, kept, whose line feed is missing.
    MissingNewline,
    /// With the beginning of a line, which is no entry.
    Torn {
        /// Where the unfinished bytes start.
        at: usize,
        /// How many there are.
        len_bytes: usize,
    },
}

/// A journal that can be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scan {
    /// Every whole line, in order; entry `n` stands at index `n`.
    pub lines: Vec<ScannedLine>,
    /// How it ends.
    pub tail: Tail,
}

impl Scan {
    /// The hash that the next line will carry: the last line's, or zeros.
    pub fn head(&self) -> Sha256 {
        self.lines.last().map_or(Sha256::ZERO, |line| line.hash)
    }

    /// The number of the next entry.
    pub fn next_n(&self) -> u64 {
        self.lines.len() as u64
    }

    /// The entries, in order.
    pub fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.lines.iter().map(|line| &line.entry)
    }
}

/// Why a journal cannot be used. Lines are counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScanError {
    /// A line is not an entry.
    #[error(
        "line {line} of the journal is damaged: {fault}; nothing has been changed, \
         bring the file back from a copy"
    )]
    Damaged {
        /// The line.
        line: usize,
        /// What is wrong with it.
        fault: LineFault,
    },
    /// A line does not carry the hash of the one before.
    #[error(
        "{}: a line was changed, added or left out; nothing has been changed now, bring the file \
         back from a copy",
        broken_place(*line)
    )]
    Chain {
        /// The line. What was changed is more often the one before it, whose hash it carries.
        line: usize,
    },
    /// A line has another number than its place.
    #[error(
        "line {line} of the journal holds entry {found}, and entry {wanted} belongs there; \
         nothing has been changed, bring the file back from a copy"
    )]
    Number {
        /// The line.
        line: usize,
        /// The number that belongs there.
        wanted: u64,
        /// The number it has.
        found: u64,
    },
    /// A later version of this program wrote it. It may be perfectly good.
    #[error(
        "line {line} of the journal is written in format {found}, which is newer than this \
         program; open the job with a newer version"
    )]
    Newer {
        /// The line.
        line: usize,
        /// Its format.
        found: String,
    },
    /// Every entry is good; only line ends were converted.
    #[error(
        "only the line ends of the journal were changed, from line {line} on, as file copying \
         tools do: every entry in it is whole, but it is not the file that was signed; restore \
         it with `tr -d '\\r' < journal.jsonl > restored`, then put `restored` in its place"
    )]
    LineEnds {
        /// The first line that ends in CR LF.
        line: usize,
    },
    /// Larger than [`JOURNAL_LEN_BYTES_MAX`].
    #[error("the journal has {len_bytes} bytes, and at most {JOURNAL_LEN_BYTES_MAX} are read")]
    TooLarge {
        /// Its size.
        len_bytes: usize,
    },
}

fn broken_place(line: usize) -> String {
    match line.checked_sub(1) {
        None | Some(0) => "line 1 of the journal does not begin one".to_owned(),
        Some(before) => {
            format!("lines {before} and {line} of the journal do not belong together")
        }
    }
}

/// Reads a journal.
///
/// # Errors
/// The first thing that is wrong before the tail.
pub fn scan(bytes: &[u8]) -> Result<Scan, ScanError> {
    if bytes.len() > JOURNAL_LEN_BYTES_MAX {
        return Err(ScanError::TooLarge { len_bytes: bytes.len() });
    }
    scan_lines(bytes).map_err(|error| line_ends_only(bytes).unwrap_or(error))
}

/// One line's bytes without the line feed.
#[derive(Clone, Copy)]
struct RawLine<'a> {
    bytes: &'a [u8],
    offset: usize,
    has_newline: bool,
    is_last: bool,
}

fn raw_lines(bytes: &[u8]) -> impl Iterator<Item = RawLine<'_>> {
    let mut offset = 0;
    bytes.split_inclusive(|&byte| byte == b'\n').map(move |piece| {
        let start = offset;
        offset += piece.len();
        let line = piece.strip_suffix(b"\n");
        RawLine {
            bytes: line.unwrap_or(piece),
            offset: start,
            has_newline: line.is_some(),
            is_last: offset == bytes.len(),
        }
    })
}

fn scan_lines(bytes: &[u8]) -> Result<Scan, ScanError> {
    let mut found = Scan { lines: Vec::new(), tail: Tail::Whole };
    for (raw, line) in raw_lines(bytes).zip(1..) {
        let (entry, prev) = match decode_bytes(raw.bytes) {
            Ok(decoded) => decoded,
            Err(LineFault::Newer { found }) => return Err(ScanError::Newer { line, found }),
            Err(fault) if is_torn(raw, &fault) => {
                let len_bytes = bytes.len() - raw.offset;
                found.tail = Tail::Torn { at: raw.offset, len_bytes };
                break;
            }
            Err(fault) => return Err(ScanError::Damaged { line, fault }),
        };
        if entry.n != found.next_n() {
            return Err(ScanError::Number { line, wanted: found.next_n(), found: entry.n });
        }
        if prev != found.head() {
            return Err(ScanError::Chain { line });
        }
        if !raw.has_newline {
            found.tail = Tail::MissingNewline;
        }
        let hash = Sha256::of(raw.bytes);
        found.lines.push(ScannedLine { entry, prev, hash, offset: raw.offset });
    }
    Ok(found)
}

fn decode_bytes(bytes: &[u8]) -> Result<(Entry, Sha256), LineFault> {
    // Told before the bytes are looked at, so that a huge file of one line costs nothing.
    if bytes.len() > LINE_LEN_BYTES_MAX {
        return Err(LineFault::TooLong { len_bytes: bytes.len() });
    }
    let line = std::str::from_utf8(bytes)
        .map_err(|error| LineFault::NotUtf8 { at: error.valid_up_to() })?;
    decode(line)
}

/// True when a power cut while the line was written explains what is wrong with it.
fn is_torn(raw: RawLine<'_>, fault: &LineFault) -> bool {
    if !raw.is_last || matches!(fault, LineFault::TooLong { .. }) {
        return false;
    }
    !raw.has_newline || has_lost_sectors(raw)
}

/// True when every zero byte of the line lies in a whole sector that was never written. A file can
/// have grown on the disk before the pages in its middle got there; they then read as zeros.
fn has_lost_sectors(raw: RawLine<'_>) -> bool {
    let end = raw.offset + raw.bytes.len() + usize::from(raw.has_newline);
    let mut start = raw.offset;
    let mut any_lost = false;
    while start < end {
        let next = ((start / SECTOR_LEN_BYTES + 1) * SECTOR_LEN_BYTES).min(end);
        let sector = raw.bytes.get(start - raw.offset..(next - raw.offset).min(raw.bytes.len()));
        let sector = sector.unwrap_or_default();
        if sector.contains(&0) {
            if sector.len() < next - start || sector.iter().any(|&byte| byte != 0) {
                return false;
            }
            any_lost = true;
        }
        start = next;
    }
    any_lost
}

/// The error to show instead, when the journal is good but for its line ends. No canonical line
/// holds a CR, so taking out all of them gives back the bytes that were written.
fn line_ends_only(bytes: &[u8]) -> Option<ScanError> {
    let line = raw_lines(bytes).position(|raw| raw.bytes.ends_with(b"\r"))? + 1;
    let restored: Vec<u8> = bytes.iter().copied().filter(|&byte| byte != b'\r').collect();
    let is_good = scan_lines(&restored).is_ok();
    is_good.then_some(ScanError::LineEnds { line })
}
