//! A journal's bytes: what is written is read back, and whatever is not what was written shows.

use proptest::prelude::*;
use witnessmark::ids::Sha256;
use witnessmark::journal::{
    LINE_LEN_BYTES_MAX, LineFault, ScanError, Tail, decode, encode, scan, statement_bytes,
};
use witnessmark::walk::{Entry, Event};

use crate::support::generate::{
    each_kind, entries, entry, journal_bytes, session, sha256, statement,
};

fn found(bytes: &[u8]) -> Vec<Entry> {
    scan(bytes).unwrap().entries().cloned().collect()
}

/// The bytes of the lines of `count` entries, each with its line feed.
fn lines(count: usize) -> Vec<Vec<u8>> {
    journal_bytes(&session(count)).split_inclusive(|&b| b == b'\n').map(<[u8]>::to_vec).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn every_entry_is_read_back_as_it_was_written(entry in entry(), prev in sha256()) {
        let line = encode(&entry, prev);
        prop_assert!(!line.contains('\n'));
        prop_assert_eq!(decode(&line), Ok((entry, prev)));
    }

    #[test]
    fn signed_bytes_stand_in_the_entry_letter_for_letter(statement in statement()) {
        let bytes = String::from_utf8(statement_bytes(&statement)).unwrap();
        let signed = witnessmark::walk::event::Signed { statement, signature: String::new() };
        let entry = Entry { event: Event::Identified(Box::new(signed)), ..session(1).remove(0) };
        prop_assert!(encode(&entry, Sha256::ZERO).contains(&bytes));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(12) })]

    #[test]
    fn every_byte_prefix_holds_a_prefix_of_the_entries(entries in entries(1..5)) {
        let bytes = journal_bytes(&entries);
        for cut in 0..=bytes.len() {
            let prefix = &bytes[..cut];
            let n_whole = prefix.split(|&byte| byte == b'\n').count() - 1;
            let lacks_newline = bytes.get(cut) == Some(&b'\n');
            let scan = scan(prefix).unwrap();
            let n = n_whole + usize::from(lacks_newline);
            prop_assert!(scan.entries().eq(&entries[..n]), "cut at {}", cut);
            let start = prefix.iter().rposition(|&byte| byte == b'\n').map_or(0, |at| at + 1);
            let tail = match (start == cut, lacks_newline) {
                (true, _) => Tail::Whole,
                (false, true) => Tail::MissingNewline,
                (false, false) => Tail::Torn { at: start, len_bytes: cut - start },
            };
            prop_assert_eq!(scan.tail, tail);
        }
    }
}

#[test]
fn each_flipped_byte_is_noticed() {
    let bytes = journal_bytes(&session(3));
    let head = scan(&bytes).unwrap().head();
    let last_line = scan(&bytes).unwrap().lines[2].offset;
    for at in 0..bytes.len() {
        for flip in [0x01, 0x04, 0x20, 0x80, bytes[at], bytes[at] ^ b'\n', bytes[at] ^ b'\r'] {
            let mut changed = bytes.clone();
            changed[at] ^= flip;
            if changed == bytes {
                continue;
            }
            match scan(&changed) {
                Err(_) => {}
                // Nothing follows the last line yet, so only its hash, which signatures and the
                // record carry, or its missing end can show the change.
                Ok(scan) if at >= last_line => {
                    assert!(scan.head() != head || scan.tail != Tail::Whole, "byte {at}");
                }
                Ok(_) => panic!("byte {at} of an inner line was changed by {flip:#x} unnoticed"),
            }
        }
    }
}

#[test]
fn lines_dropped_doubled_swapped_or_spliced_in_are_noticed() {
    let lines = lines(4);
    let other = journal_bytes(&each_kind());
    let other_third = other.split_inclusive(|&byte| byte == b'\n').nth(2).unwrap();
    let rejected = |pieces: &[&[u8]], line: usize| {
        let error = scan(&pieces.concat()).unwrap_err().to_string();
        assert!(error.starts_with(&format!("line {line} of the journal")), "{error}");
    };
    rejected(&[&lines[1], &lines[2]], 1);
    rejected(&[&lines[0], &lines[2], &lines[3]], 2);
    rejected(&[&lines[0], &lines[1], &lines[1], &lines[2]], 3);
    rejected(&[&lines[0], &lines[2], &lines[1]], 2);
    let spliced = [&lines[0], &lines[1], other_third, &lines[3]].concat();
    assert_eq!(scan(&spliced), Err(ScanError::Chain { line: 3 }));
    rejected(&[&lines[0], &lines[1], b"\n"], 3);
    // A changed line of the right number shows in the line after it, and both are named.
    let mut changed = session(3);
    changed[1].by = None;
    let changed = journal_bytes(&changed);
    let second = changed.split_inclusive(|&byte| byte == b'\n').nth(1).unwrap();
    let error = scan(&[&lines[0], second, &lines[2]].concat()).unwrap_err();
    assert_eq!(error, ScanError::Chain { line: 3 });
    assert!(error.to_string().starts_with("lines 2 and 3 of the journal"), "{error}");
}

#[test]
fn a_torn_tail_is_told_from_a_missing_line_feed_and_from_damage() {
    let lines = lines(4);
    let three = lines[..3].concat();
    // (a) part of a line; (b) cut inside a character.
    let umlaut = lines[3].iter().position(|&byte| byte == 0xc3).unwrap();
    for cut in [1, 20, umlaut + 1] {
        let bytes = [&three, &lines[3][..cut]].concat();
        assert_eq!(scan(&bytes).unwrap().tail, Tail::Torn { at: three.len(), len_bytes: cut });
        assert_eq!(found(&bytes), session(3));
    }
    // (c) whole but for the line feed.
    let bytes = [&three, lines[3].strip_suffix(b"\n").unwrap()].concat();
    assert_eq!(scan(&bytes).unwrap().tail, Tail::MissingNewline);
    assert_eq!(found(&bytes), session(4));
    // (d) damage in line 2 of 3.
    let mut bytes = three.clone();
    bytes[lines[0].len() + 9] = 0xff;
    let error = scan(&bytes).unwrap_err();
    assert_eq!(error, ScanError::Damaged { line: 2, fault: LineFault::NotUtf8 { at: 9 } });
    assert!(error.to_string().starts_with("line 2 of the journal is damaged"), "{error}");
    // (e) empty.
    assert!(scan(b"").unwrap().lines.is_empty());
}

#[test]
fn pages_that_never_reached_the_disk_are_a_torn_tail_and_a_changed_byte_is_not() {
    let mut long = session(2);
    long[1].event = Event::NoteAdded { address: None, text: "x".repeat(3000) };
    let bytes = journal_bytes(&long);
    let start = scan(&bytes).unwrap().lines[1].offset;
    let mut lost = bytes.clone();
    lost[start..1024].fill(0);
    let torn = Tail::Torn { at: start, len_bytes: bytes.len() - start };
    assert_eq!(scan(&lost).unwrap().tail, torn);
    let mut changed = bytes.clone();
    changed[start + 700] = 0;
    assert!(matches!(scan(&changed), Err(ScanError::Damaged { line: 2, .. })));
    // The same loss before the last line is damage.
    let mut lost = journal_bytes(&session(4));
    lost[512..1024].fill(0);
    assert!(matches!(scan(&lost), Err(ScanError::Damaged { .. })));
}

#[test]
fn converted_line_ends_are_told_apart_and_can_be_restored() {
    let text = String::from_utf8(journal_bytes(&session(3))).unwrap();
    let converted = text.replace('\n', "\r\n");
    let error = scan(converted.as_bytes()).unwrap_err();
    assert_eq!(error, ScanError::LineEnds { line: 1 });
    assert!(error.to_string().contains("tr -d '\\r'"), "{error}");
    assert_eq!(found(converted.replace('\r', "").as_bytes()), session(3));
    // Something else besides is damage.
    let changed = converted.replace("seat 0", "seat 1");
    assert!(!matches!(scan(changed.as_bytes()), Err(ScanError::LineEnds { .. })));
    // A line feed too many has its own sentence.
    let error = scan(format!("{text}\n").as_bytes()).unwrap_err();
    assert_eq!(error, ScanError::Damaged { line: 4, fault: LineFault::Empty });
    // So has a byte order mark.
    assert!(matches!(
        scan(format!("\u{feff}{text}").as_bytes()),
        Err(ScanError::Damaged { line: 1, .. })
    ));
}

#[test]
fn a_newer_journal_is_not_called_damaged() {
    let text = String::from_utf8(journal_bytes(&session(2))).unwrap();
    let newer = text.replace("\"format\":\"1.0\"", "\"format\":\"1.7\",\"hue\":0.5");
    let error = scan(newer.as_bytes()).unwrap_err();
    assert_eq!(error, ScanError::Newer { line: 1, found: "1.7".to_owned() });
    assert!(error.to_string().contains("newer"), "{error}");
}

#[test]
fn a_line_of_any_length_is_refused_before_it_is_read() {
    let bytes = vec![b'{'; LINE_LEN_BYTES_MAX + 1];
    let fault = LineFault::TooLong { len_bytes: bytes.len() };
    assert_eq!(scan(&bytes), Err(ScanError::Damaged { line: 1, fault }));
    let deep = [vec![b'['; 200_000], vec![b'\n']].concat();
    assert!(matches!(scan(&deep), Err(ScanError::Damaged { line: 1, .. })));
}

/// The fixture is kept for ever: a program that cannot read it has broken every journal there is.
#[test]
fn re3_the_first_format_is_read_and_written_as_ever() {
    let kept = include_bytes!("../fixtures/journals/v1/each_kind.jsonl");
    assert_eq!(found(kept), each_kind());
    assert_eq!(journal_bytes(&each_kind()), kept);
}
