#!/usr/bin/env bash
# Measures `verify` on many job folders: jobs per second on one and on all processors, next to a shell
# loop of `sha256sum -c` and `ssh-keygen -Y verify` over the same folders.
#
#   tests/bench/verify_many.sh [N_FOLDERS] [PROGRAM]
set -euo pipefail
n=${1:-10000}
root=$(cd "$(dirname "$0")/../.." && pwd)
program=$(realpath "${2:-$root/target/release/witnessmark}")
dir=$(mktemp -d)
trap 'chmod -R u+w "$dir"; rm -rf "$dir"' EXIT
"$program" demo --play --shop "$dir/shop" >/dev/null
job=$(echo "$dir"/shop/jobs/*-0001)
mkdir "$dir/many"
# Copies of one job: every byte is read and judged anew for each.
for i in $(seq -w 1 "$n"); do cp -r "$job" "$dir/many/$i"; done
echo "$n folders of $(du -sb "$job" | cut -f1) bytes, $(wc -l <"$job/journal.jsonl") entries each"
cd "$dir/many"
measure() {
  local name=$1 count=$2 start end
  shift 2
  start=$(date +%s.%N)
  "$@" >/dev/null
  end=$(date +%s.%N)
  awk -v name="$name" -v n="$count" -v s="$start" -v e="$end" \
    'BEGIN { printf "%-34s %8.2f s %9.1f jobs/s\n", name, e - s, n / (e - s) }'
}
# So many on a command line at once that they fit on it.
verify() { printf '%s\0' * | xargs -0 -n 2000 "$program" verify --trust "$dir/shop/trust" --jobs "$1"; }
measure "verify --jobs 1" "$n" verify 1
measure "verify --jobs $(nproc)" "$n" verify "$(nproc)"
stock() {
  for folder in *; do
    (
      cd "$folder"
      sha256sum --quiet -c SHA256SUMS
      ssh-keygen -Y verify -f "$dir/shop/allowed_signers" -I t.reiter -n release.v1@witnessmark \
        -s record.json.sig <record.json
    )
  done
}
measure "sha256sum and ssh-keygen, in a loop" "$n" stock
