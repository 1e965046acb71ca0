#!/bin/bash
# Compares stats/mixed with R's lme4 and lmerTest on the same invented rows, both
# in this one call, and writes the table to mixed.md beside this script.
# Needs Go and R with lme4 and lmerTest (Debian: r-cran-lme4 r-cran-lmertest).
#   testdata/bench/mixed.sh [ROWS ...]     default: 10000 1000000
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$here/../.."
go build -o "$work/mixed" ./testdata/bench/mixed
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

value() { sed -n "s/^$2=//p" "$1"; }
table="$work/table"
: >"$table"
for rows in "${@:-10000 1000000}"; do for n in $rows; do
  "$work/mixed" make "$n" "$work/rows.csv"
  repeats=1; [ "$n" -le 100000 ] && repeats=3
  "$work/mixed" fit "$work/rows.csv" $((repeats * repeats * repeats)) >"$work/go" 2>"$work/printed"
  Rscript "$here/mixed.R" "$work/rows.csv" "$repeats" >"$work/r"
  for what in memory csv; do
    awk -v n="$n" -v w="$what" -v g="$(value "$work/go" $what)" -v r="$(value "$work/r" $what)" \
      -v b="$([ "$what" = csv ] && echo 40 || { [ "$n" -ge 1000000 ] && echo 100 || echo 20; })" 'BEGIN {
      printf "| %d | %s | %.4f | %.3f | %.0f | %d |\n", n, (w == "csv" ? "CSV to printed estimates" : "columns in memory to fit and Satterthwaite"), g, r, r / g, b }' >>"$table"
  done
  awk -v n="$n" -v g="$(value "$work/go" memory)" -v r="$(value "$work/r" plain)" 'BEGIN {
      printf "| %d | the same, R without Satterthwaite | %.4f | %.3f | %.0f | |\n", n, g, r, r / g }' >>"$table"
  awk -v n="$n" -v g="$(value "$work/go" criterion)" -v r="$(value "$work/r" criterion)" 'BEGIN {
      printf "%d rows: REML criterion %.9f, R %.9f, difference %.3g\n", n, g, r, g - r
      exit !(g - r <= 1e-6) }' >>"$work/agree" || { cat "$work/agree"; echo "criterion above R's" >&2; exit 1; }
  for i in 0 1 2 3; do
    awk -v i="$i" -v n="$n" -v ge="$(value "$work/go" estimate$i)" -v re="$(value "$work/r" estimate$i)" \
      -v gs="$(value "$work/go" se$i)" -v rs="$(value "$work/r" se$i)" \
      -v gd="$(value "$work/go" df$i)" -v rd="$(value "$work/r" df$i)" 'BEGIN {
      printf "%d rows, coefficient %d: estimate %.9g (R %.9g), standard error %.7g (R %.7g), df %.6g (R %.6g)\n", n, i, ge, re, gs, rs, gd, rd }' >>"$work/agree"
  done
done; done
{
  echo "# Mixed models: CPU seconds against R"
  echo
  echo "Written by \`testdata/bench/mixed.sh\` on $(date -u +%F), $(nproc --all) cores of $(sed -n 's/^model name.*: //p' /proc/cpuinfo | head -1), $(go version | cut -d' ' -f3), $(value "$work/r" versions). One run on a machine shared with other work: expect a fifth more or less."
  echo
  echo "Model: y ~ x1 + x2 + x2^2 + (1 + x1 + x2 | unit) + (1 | unit:group), REML, lmerControl(calc.derivs = FALSE); 20 groups a unit, 15 to 35 rows a group. CPU is user and system time, of all threads. Summing the rows is counted, loading R's packages is not."
  echo
  echo "| rows | from | CPU s here | CPU s in R | ratio | bar |"
  echo "|---|---|---|---|---|---|"
  cat "$table"
  echo
  echo "Agreement (R's optimiser stops before its last digits):"
  echo
  sed 's/^/- /' "$work/agree"
} | tee "$here/mixed.md"
