//! The shell lines with which a stranger checks a finished job without this program.
//!
//! Only `sha256sum`, `ssh-keygen` and a text viewer are taken for granted. This program's `verify`
//! checks far more, the replay of the answers above all.

use super::namespaces::{Namespace, SHOP_PRINCIPAL};
use crate::ids::JobId;

/// The recipe for the folder of `job`, to be run inside it. What a person has to fill in stands in
/// the first lines; nothing in the folder is written to.
pub fn recipe(job: &JobId) -> String {
    let (roster, release) = (Namespace::Roster.text(), Namespace::Release.text());
    format!(
        r#"# How to check the job {job} with sha256sum and ssh-keygen (OpenSSH 9.1 or later) only.
# Run these lines in a POSIX shell inside the folder of the job.

# 1. Fill in. The shop's public key comes from the shop, by another way than this folder: a folder
#    cannot vouch for itself. The others are read by eye: `signer` and `at` under "release" in
#    record.json (`at` in UTC, digits only), `key` and the days of that person in files/shop.yaml.
#    There the person must have the role mechanic and not be revoked. `until` is the day after
#    their last qualified day.
shop_key='ssh-ed25519 AAAA...'
signer='first.last'
key='ssh-ed25519 AAAA...'
from=YYYYMMDD
until=YYYYMMDD
at=YYYYMMDDHHMMSS
here=$(mktemp -d)

# 2. Files are as they were when the folder was closed. An aid: whoever changes a file can write a
#    new list.
sha256sum -c SHA256SUMS

# 3. The shop signed this roster.
printf '%s namespaces="{roster}" %s\n' {SHOP_PRINCIPAL} "$shop_key" > "$here/shop"
ssh-keygen -Y verify -f "$here/shop" -I {SHOP_PRINCIPAL} -n {roster} \
  -s files/shop.yaml.sig < files/shop.yaml

# 4. The releaser signed this record, and was qualified at the time that it claims.
printf '%s namespaces="{release}",valid-after="%s000000Z",valid-before="%s000000Z" %s\n' \
  "$signer" "$from" "$until" "$key" > "$here/signer"
ssh-keygen -Y verify -f "$here/signer" -I "$signer" -n {release} \
  -Overify-time="${{at}}Z" -s record.json.sig < record.json

# 5. The files are those of the record: each of these hashes stands in record.json.
for file in files/* evidence/*; do
  [ -f "$file" ] || continue
  hash=$(sha256sum < "$file" | cut -d' ' -f1)
  grep -qF "$hash" record.json && echo "$file: in the record" || echo "$file: NOT in the record"
done

# 6. The journal is one chain, and the record was signed over it: the hash of the line before the
#    last (`released`) is the "head" of record.json.
prev=$(printf '%064d' 0)
head=none
broken=no
while IFS= read -r line; do
  case $line in *"\"prev\":\"$prev\""*) ;; *) broken=yes ;; esac
  head=$prev
  prev=$(printf '%s' "$line" | sha256sum | cut -d' ' -f1)
done < journal.jsonl
[ $broken = no ] && echo "journal: one chain" || echo "journal: BROKEN"
grep -qF "\"head\":\"$head\"" record.json && echo "journal: as signed" || echo "journal: NOT as signed"
rm -r "$here"
"#
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_recipe_names_the_job_and_asks_for_a_key_from_elsewhere() {
        let text = recipe(&JobId::numbered(2026, 31));
        assert!(text.starts_with("# How to check the job 2026-0031 "));
        assert!(text.contains("-n release.v1@witnessmark \\\n  -Overify-time=\"${at}Z\""));
        assert!(text.contains("by another way than this folder"));
    }
}
