//! `SHA256SUMS`: an aid for people who have nothing but `sha256sum -c`. It carries no trust.

use super::{InnerPath, JobFolder, StoreError};
use crate::ids::Sha256;
use crate::ports::{Disk, Overwrite};

/// The largest file that is hashed, in bytes.
const FILE_LEN_BYTES_MAX: u64 = 1 << 30;

/// Writes the list of every file of the folder but itself, sorted by path.
pub fn write_sums(disk: &dyn Disk, job: &JobFolder) -> Result<(), StoreError> {
    let sums = job.sums();
    let mut text = String::new();
    for path in job.list(disk)? {
        if path.below(job.root()) != sums {
            let hash = Sha256::of(&job.read(disk, &path, FILE_LEN_BYTES_MAX)?);
            text.push_str(&sum_line(hash, &path));
        }
    }
    Ok(disk.write_new(&sums, text.as_bytes(), Overwrite::Replace)?)
}

/// One line as `sha256sum` writes it: a name that would break the line is escaped, and a `\` at
/// the start says so.
fn sum_line(hash: Sha256, path: &InnerPath) -> String {
    let name = path.as_str();
    if name.contains(['\\', '\n', '\r']) {
        let escaped = name.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "\\r");
        format!("\\{hash}  {escaped}\n")
    } else {
        format!("{hash}  {name}\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_names_are_escaped_as_sha256sum_does() {
        let line = |name: &str| sum_line(Sha256::ZERO, &InnerPath::new(name).unwrap());
        let zeros = "0".repeat(64);
        assert_eq!(line("files/a b.yaml"), format!("{zeros}  files/a b.yaml\n"));
        assert_eq!(line("a\\b\nc"), format!("\\{zeros}  a\\\\b\\nc\n"));
    }
}
