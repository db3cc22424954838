#!/usr/bin/env bash
# Measures `verify` on many job folders, on one and on two processors, next to the least that it can
# cost (`verify_bare`: read, hash, check the same signatures, with the same crates) and next to a shell
# loop of `sha256sum -c` and `ssh-keygen -Y verify`, which checks one signature of each folder and walks
# nothing. Seconds of the clock, and of the processors: the second do not hang on what else runs here.
#
#   cargo build --release && cargo bench --no-run --bench verify_bare
#   tests/bench/verify_many.sh [N_FOLDERS] [N_FOLDERS_OF_THE_SHELL_LOOP] [PROGRAM] [VERIFY_BARE]
set -euo pipefail
n=${1:-10000}
n_stock=${2:-$n}
root=$(cd "$(dirname "$0")/../.." && pwd)
program=$(realpath "${3:-$root/target/release/witnessmark}")
bare=$(realpath "${4:-$(ls -t "$root"/target/release/deps/verify_bare-* | grep -v '\.d$' | head -1)}")
dir=$(mktemp -d)
trap 'chmod -R u+w "$dir"; rm -rf "$dir"' EXIT
"$program" demo --play --shop "$dir/shop" >/dev/null
job=$(echo "$dir"/shop/jobs/*-0001)
mkdir "$dir/many"
# Copies of one job: every byte is read and judged anew for each.
for i in $(seq -w 1 "$n"); do cp -r "$job" "$dir/many/$i"; done
echo "$n folders of $(du -sb "$job" | cut -f1) bytes, $(wc -l <"$job/journal.jsonl") entries each"
echo "processors: $(nproc); load before: $(cut -d' ' -f1 /proc/loadavg)"
cd "$dir/many"
measure() {
  local name=$1 count=$2
  shift 2
  TIMEFORMAT='%R %U %S'
  { time "$@" >/dev/null; } 2>"$dir/time"
  awk -v name="$name" -v n="$count" '
    { cpu = $2 + $3
      printf "%-36s %8.2f s %8.1f jobs/s   %8.2f cpu s %8.1f jobs/cpu s\n", name, $1, n / $1, cpu, n / cpu
    }' "$dir/time"
}
# So many on a command line at once that they fit on it.
verify() { printf '%s\0' * | xargs -0 -n 2000 "$program" verify --trust "$dir/shop/trust" --jobs "$1"; }
stock() {
  for folder in $(ls | head -n "$n_stock"); do
    (
      cd "$folder"
      sha256sum --quiet -c SHA256SUMS
      ssh-keygen -Y verify -f "$dir/shop/allowed_signers" -I t.reiter -n release.v1@witnessmark \
        -s record.json.sig <record.json
    )
  done
}
# Once over everything, so that each finds the files in memory.
"$bare" "$dir/many" 1 >/dev/null
measure "verify --jobs 1" "$n" verify 1
measure "verify --jobs 2" "$n" verify 2
measure "read, hash, signatures, 1 thread" "$n" "$bare" "$dir/many" 1
measure "read, hash, signatures, 2 threads" "$n" "$bare" "$dir/many" 2
measure "sha256sum and ssh-keygen, in a loop" "$n_stock" stock
echo "load after: $(cut -d' ' -f1 /proc/loadavg)"
