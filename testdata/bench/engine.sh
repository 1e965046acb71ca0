#!/usr/bin/env bash
# Measures the engine on large invented studies, and in the same call the decoders,
# DuckDB and polars on the same files. Prints a table, keeps it in engine.md beside this
# script. Needs Go, Node, the tools of "make tools", and room: 3 GB for the defaults.
#   testdata/bench/engine.sh [FILES [LENGTHS [SWIMMERS]]]   default 10000 10000000 1000
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
files=${1:-10000} lengths=${2:-10000000} swimmers=${3:-1000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$here/../.."
python=${LENGTHWISE_PYTHON:-$PWD/.tools/python/bin/python}
go build -trimpath -o "$work/lengthwise" ./cmd/lengthwise
go build -o "$work/makestudy" ./testdata/bench/makestudy
npm install --silent --no-audit --no-fund --prefix "$work/npm" $(node -p "Object.entries(require('$here/engine/package.json').dependencies).map((d) => d.join('@')).join(' ')")

# timed NAME COMMAND...: wall, CPU seconds and MB of a command, as NAME_wall and so on.
timed() {
  local name=$1 wall user system kb; shift
  /usr/bin/time -f "%e %U %S %M" -o "$work/time" "$@" >"$work/out.log" 2>&1 || { cat "$work/out.log" >&2; return 1; }
  read -r wall user system kb < <(tail -1 "$work/time")
  eval "${name}_wall=$wall ${name}_cpu=$(awk "BEGIN { print $user + $system }") ${name}_mb=$((kb / 1024))"
}
value() { sed -n "s/^$2=//p" "$1"; }
rows=()
row() { rows+=("| $1 | $2 | $3 | $4 | $5 |"); echo "${rows[-1]}" >&2; }
ratio() { awk -v a="$1" -v b="$2" 'BEGIN { printf "%.2f", a / b }'; }
bar() { awk -v a="$1" -v op="$2" -v b="$3" 'BEGIN { met = op == "<" ? a < b : a >= b; print met ? "met" : "MISSED" }'; }
run() { "$work/lengthwise" run -q --study "$1" "${@:2}"; }

# Activity files.
study=$work/files
"$work/makestudy" -swimmers $((files / 50)) -sessions 50 "$study"
kb=$(find "$study/watches" -type f -printf '%s\n' | awk '{ s += $1 } END { printf "%.0f", s / NR / 1000 }')
for d in fit-decoder fit-file-parser; do node "$here/engine/decode.mjs" "$work/npm/node_modules" $d "$study/watches" >"$work/$d"; done
a=$(value "$work/fit-decoder" cpu) b=$(value "$work/fit-file-parser" cpu)
quicker=$(awk -v a="$a" -v b="$b" 'BEGIN { print a < b ? a : b }')
timed read "$work/lengthwise" run -q --study "$study" --phase read --shard 1/1 --workers 2
timed again "$work/lengthwise" run -q --study "$study" --anew --phase read --shard 1/1 --workers 1
timed one "$work/lengthwise" run -q --study "$study" --cache none --anew --workers 1
timed two "$work/lengthwise" run -q --study "$study" --cache none --anew --workers 2
timed kept "$work/lengthwise" run -q --study "$study" --anew
row "$files activity files of $kb kB, $(( $(value "$work/fit-decoder" lengths) / files )) lengths, $(( $(value "$work/fit-decoder" records) / files )) records: to tables and answers" "$two_wall s, $two_cpu CPU s, $two_mb MB" "decoding alone: fit-decoder $a, fit-file-parser $b CPU s" "quicker one's CPU over ours: $(ratio "$quicker" "$two_cpu")" "5: $(bar "$(ratio "$quicker" "$two_cpu")" ">=" 5)"
row "reading alone (decoded, owned, packed on disk)" "$read_wall s, $read_cpu CPU s, $read_mb MB" "the same" "$(ratio "$quicker" "$read_cpu")" ""
row "the same, and kept for the next run" "$kept_wall s, $kept_cpu CPU s, $kept_mb MB, $(du -sm "$study/private/cache" | cut -f1) MB of cache" "" "" ""
row "two workers over one" "$two_wall s" "one: $one_wall s" "$(ratio "$one_wall" "$two_wall")" "1.5: $(bar "$(ratio "$one_wall" "$two_wall")" ">=" 1.5)"
sleep 3
timed none "$work/lengthwise" run -q --study "$study"
timed none "$work/lengthwise" run -q --study "$study"
row "again, nothing changed" "$none_wall s, $none_mb MB" "" "" "under 2 s: $(bar "$none_wall" "<" 2)"
last=$(ls "$study"/watches/*/*.fit | tail -1)
mv "$last" "$work/last.fit"; run "$study"; sleep 3; mv "$work/last.fit" "$last"
timed new "$work/lengthwise" run -q --study "$study"
row "again, one new file" "$new_wall s, $new_cpu CPU s, $new_mb MB" "" "" "under 5 s: $(bar "$new_wall" "<" 5)"
rm -rf "$study"

# One sheet, a row a length.
study=$work/sheet
"$work/makestudy" -as sheet -swimmers $((lengths / 10000)) -sessions 50 "$study"
mkdir "$work/peer"; "$python" "$here/engine/sheets.py" "$study/sheets/00000.csv" "$work/peer" >"$work/sheets"
mb=$(( $(stat -c %s "$study/sheets/00000.csv") / 1000000 ))
timed sheet "$work/lengthwise" run -q --study "$study" --cache none
row "$lengths lengths in one sheet of $mb MB: to tables and answers" "$sheet_wall s, $sheet_cpu CPU s, $sheet_mb MB" "DuckDB, derived columns: $(value "$work/sheets" duckdb_derived_wall) s; bare: $(value "$work/sheets" duckdb_bare_wall) s; polars, bare: $(value "$work/sheets" polars_bare_wall) s" "DuckDB's derived over ours: $(ratio "$(value "$work/sheets" duckdb_derived_wall)" "$sheet_wall")" "1: $(bar "$(ratio "$(value "$work/sheets" duckdb_derived_wall)" "$sheet_wall")" ">=" 1); under 1000 MB: $(bar "$sheet_mb" "<" 1000)"
rm -rf "$study" "$work/peer"

# Many swimmers.
for n in $((swimmers / 2)) "$swimmers"; do
  "$work/makestudy" -as repeats -swimmers "$n" -sessions 50 -repeats 20 "$work/many"
  timed "many$n" "$work/lengthwise" run -q --study "$work/many" --cache none
  rm -rf "$work/many"
done
half=$((swimmers / 2)) wall=many${swimmers}_wall cpu=many${swimmers}_cpu mb=many${swimmers}_mb half_wall=many${half}_wall half_mb=many${half}_mb
row "$swimmers swimmers, $((swimmers * 50)) sessions, $((swimmers * 1000)) bouts, a sheet a swimmer" "${!wall} s, ${!cpu} CPU s, ${!mb} MB" "" "" "under 180 s: $(bar "${!wall}" "<" 180); under 2000 MB: $(bar "${!mb}" "<" 2000)"
row "the same over half as many swimmers" "$(ratio "${!wall}" "${!half_wall}") times the time, $(ratio "${!mb}" "${!half_mb}") times the memory" "" "" "2.2 and 1.2: $(bar "$(ratio "${!wall}" "${!half_wall}")" "<" 2.2), $(bar "$(ratio "${!mb}" "${!half_mb}")" "<" 1.2)"
{
  echo "# The engine, and others on the same files"
  echo
  echo "Written by \`make bench-engine\` on $(date -u +%F), $(nproc --all) cores of $(sed -n 's/^model name.*: //p' /proc/cpuinfo | head -1), $(go version | cut -d' ' -f3), node $(node --version), $(value "$work/sheets" versions). One run on a machine shared with other work: expect a fifth more or less. CPU is user and system time of all threads; of the decoders without loading them. All of lengthwise's figures are whole runs, with screening, ledger, fits, findings and pages, unless they say otherwise; the others only decode, or convert and compute columns."
  echo
  echo "| what | lengthwise | others | ratio | bar |"
  echo "|---|---|---|---|---|"
  printf '%s\n' "${rows[@]}"
} >"$here/engine.md"
echo "kept in testdata/bench/engine.md" >&2
