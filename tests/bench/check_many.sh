#!/usr/bin/env bash
# Measures `check` on a generated library: files per second and peak memory, next to a plain YAML parse
# of the same bytes and, where they can be installed, a YAML linter and a JSON Schema validator. With an
# equipment file `check` also joins every procedure with it and proves it; that is measured apart.
#
#   tests/bench/check_many.sh [N_FILES] [PROGRAM]
set -euo pipefail
n=${1:-10000}
root=$(cd "$(dirname "$0")/../.." && pwd)
program=$(realpath "${2:-$root/target/release/witnessmark}")
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
mkdir "$dir/library"
"$program" new procedure new_procedure --folder "$dir" >/dev/null
"$program" new equipment my_machine --folder "$dir" >/dev/null
for i in $(seq -w 1 "$n"); do
  sed "s/new_procedure/p_$i/" "$dir/new_procedure.yaml" >"$dir/library/p_$i.yaml"
done
bytes=$(cat "$dir"/library/*.yaml | wc -c)
echo "$n files, $bytes bytes"

cat >"$dir/measure.py" <<'PY'
import resource, subprocess, sys, time
name, n, args = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
start = time.monotonic()
done = subprocess.run(args, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
took = time.monotonic() - start
peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
print(f"{name:24} {took:8.2f} s {n / took:10.0f} files/s {peak:6} MiB  status {done.returncode}")
PY
cat >"$dir/parse.py" <<'PY'
import pathlib, sys, yaml
loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
for path in sorted(pathlib.Path(sys.argv[1]).iterdir()):
    yaml.load(path.read_text(), Loader=loader)
PY
measure() { python3 "$dir/measure.py" "$1" "$n" "${@:2}" || true; }
# Names relative to the folder, so that ten thousand of them fit on a command line.
cd "$dir/library"
measure "witnessmark check" "$program" check --format short ./*.yaml
measure "the same, and proved" "$program" check --format short ../my_machine.yaml ./*.yaml
if [ -z "${OFFLINE:-}" ] && python3 -m venv "$dir/venv" 2>/dev/null &&
  "$dir/venv/bin/pip" -q install pyyaml yamllint check-jsonschema 2>/dev/null; then
  measure "YAML parse (libyaml)" "$dir/venv/bin/python" "$dir/parse.py" .
  measure "yamllint" "$dir/venv/bin/yamllint" -d relaxed .
  measure "check-jsonschema" "$dir/venv/bin/check-jsonschema" --schemafile \
    "$root/schemas/procedure.schema.json" ./*.yaml
else
  echo "no comparison: the Python packages could not be installed"
fi
