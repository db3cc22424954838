//! Photos of a job: put into the page where they are small pictures of a kind that every browser shows,
//! else listed.

use std::collections::BTreeMap;

use minijinja::Value;
use serde::Serialize;

use super::index::Index;
use super::words;
use crate::record::completion::{Answer, Evidence};

/// The largest picture that is put into a page.
pub const PHOTO_LEN_BYTES_MAX: usize = 6 << 20;
/// The most bytes of pictures that one page holds.
pub const PHOTOS_LEN_BYTES_MAX: usize = 24 << 20;

/// A photo or file that belongs to the job.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Photo<'a> {
    pub(super) file: &'a Evidence,
    pub(super) size: String,
    /// What it is about, for people.
    pub(super) about: String,
    pub(super) at: &'a str,
    pub(super) by: Option<&'a str>,
    pub(super) n: u64,
    /// The picture itself as a `data:` address.
    pub(super) data: Option<Value>,
    /// Why it is not in the page.
    pub(super) why: String,
    /// Where it lies beside the page.
    pub(super) path: Option<String>,
}

/// Where a file of the job lies below its folder. A hash that is none leads nowhere.
fn path(sha256: &str) -> Option<String> {
    let is_hash = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_hexdigit());
    is_hash.then(|| format!("evidence/{sha256}"))
}

/// All of them, in the order of the steps, then those beside steps. `files` are by their SHA-256.
pub(super) fn of<'a>(index: &Index<'a>, files: &BTreeMap<String, Vec<u8>>) -> Vec<Photo<'a>> {
    let photo =
        |file: &'a Evidence, about: String, at: &'a str, by: Option<&'a str>, n: u64| Photo {
            size: words::size(file.len_bytes),
            path: path(&file.sha256),
            why: String::new(),
            data: None,
            file,
            about,
            at,
            by,
            n,
        };
    let in_steps = index.record.steps.iter().filter_map(|step| match &step.answer {
        Answer::Attached(file) => {
            let about = index.asked_where(step);
            Some(photo(file, about, &step.at, step.by.as_deref(), step.n))
        }
        _ => None,
    });
    let beside = index.record.evidence.iter().map(|beside| {
        let about = beside.address.as_deref().map_or_else(String::new, |at| index.place(at));
        photo(&beside.file, about, &beside.at, beside.by.as_deref(), beside.n)
    });
    let mut left = PHOTOS_LEN_BYTES_MAX;
    let mut photos: Vec<Photo<'a>> = in_steps.chain(beside).collect();
    for photo in &mut photos {
        match inline(photo.file, files, &mut left) {
            Ok(data) => photo.data = Some(data),
            Err(why) => photo.why = why.to_owned(),
        }
    }
    photos
}

/// The picture as it stands in the page, else why it does not.
fn inline(
    file: &Evidence,
    files: &BTreeMap<String, Vec<u8>>,
    left: &mut usize,
) -> Result<Value, &'static str> {
    if file.len_bytes > PHOTO_LEN_BYTES_MAX as u64 {
        return Err("too large for this page");
    }
    let bytes = files.get(&file.sha256).ok_or("not put into this page")?;
    let kind = kind(bytes).ok_or("no picture that a page shows")?;
    *left = left.checked_sub(bytes.len()).ok_or("this page holds no more pictures")?;
    // Base64 and a kind of our own list: nothing in it could leave the attribute.
    let address = format!("data:image/{kind};base64,{}", base64(bytes));
    Ok(Value::from_safe_string(address))
}

/// The kind of a picture, told by its first bytes, whatever its name says.
fn kind(bytes: &[u8]) -> Option<&'static str> {
    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";
    const JPEG: &[u8] = b"\xff\xd8\xff";
    if bytes.starts_with(PNG) {
        return Some("png");
    }
    bytes.starts_with(JPEG).then_some("jpeg")
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let at = |n: usize| usize::from(chunk.get(n).copied().unwrap_or(0));
        let bits = at(0) << 16 | at(1) << 8 | at(2);
        for (n, shift) in [18, 12, 6, 0].into_iter().enumerate() {
            let letter = LETTERS.get(bits >> shift & 63).copied().unwrap_or(b'=');
            text.push(if n > chunk.len() { '=' } else { char::from(letter) });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::sample::{full, parsed};
    use super::*;

    #[test]
    fn base64_is_that_of_the_rfc() {
        let cases = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (text, wanted) in cases {
            assert_eq!(base64(text.as_bytes()), wanted);
        }
        assert_eq!(base64(&[0xfb, 0xff, 0xbf]), "+/+/");
    }

    #[test]
    fn a_picture_is_told_by_its_first_bytes() {
        assert_eq!(kind(b"\x89PNG\r\n\x1a\nrest"), Some("png"));
        assert_eq!(kind(b"\xff\xd8\xff\xe0"), Some("jpeg"));
        for other in [b"<svg onload=alert(1)>".as_slice(), b"GIF89a", b"", b"\xff\xd8"] {
            assert_eq!(kind(other), None);
        }
    }

    #[test]
    fn a_file_that_is_not_in_the_page_says_why_and_where_it_is() {
        let mut value = full();
        let hash = |c: char| c.to_string().repeat(64);
        let beside = |c: char, len_bytes: u64| json!({"at": "t", "n": 1, "file": {"len_bytes": len_bytes, "name": "a.jpg", "sha256": hash(c)}});
        value["steps"] = json!([]);
        value["evidence"] =
            json!([beside('a', 4), beside('b', 5), beside('c', 9), beside('d', 6_800_000)]);
        value["evidence"][2]["file"]["sha256"] = json!("../x");
        let record = parsed(&value);
        let files = BTreeMap::from([
            (hash('a'), b"\xff\xd8\xff\xe0".to_vec()),
            (hash('b'), b"%PDF-".to_vec()),
        ]);
        let photos = of(&Index::of(&record), &files);
        let told: Vec<(bool, &str, Option<&str>)> = photos
            .iter()
            .map(|photo| (photo.data.is_some(), photo.why.as_str(), photo.path.as_deref()))
            .collect();
        let [a, b, d] = ['a', 'b', 'd'].map(|c| format!("evidence/{}", hash(c)));
        assert_eq!(
            told,
            [
                (true, "", Some(a.as_str())),
                (false, "no picture that a page shows", Some(b.as_str())),
                // What is no hash leads nowhere.
                (false, "not put into this page", None),
                (false, "too large for this page", Some(d.as_str())),
            ]
        );
        assert_eq!(photos[3].size, "6.8 MB");
    }
}
