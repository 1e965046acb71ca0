#!/bin/bash
# Compares stats/mixed with R's lme4 and lmerTest, and stats/resample with R's boot, on
# the same invented numbers, all in this one call. Prints the table, keeps it in
# peers.md beside this script, and fails when a bar is missed or results disagree.
# Needs Go and R (Debian: r-cran-lme4 r-cran-lmertest r-cran-boot).
#   testdata/bench/peers.sh [ROWS ...]     rows of the mixed models, default 10000 1000000
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$here/../.."
go build -o "$work/mixed" ./testdata/bench/mixed
go build -o "$work/bootstrap" ./testdata/bench/bootstrap
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

value() { sed -n "s/^$2=//p" "$1"; }
# row FILE WHAT WHERE HERE THERE BAR: one line of a table; an empty bar only informs.
row() {
  awk -v a="$2" -v b="$3" -v g="$4" -v r="$5" -v bar="$6" 'BEGIN {
    met = bar == "" ? "" : (r / g >= bar ? ", met" : ", MISSED")
    printf "| %s | %s | %.5f | %.4f | %.0f | %s%s |\n", a, b, g, r, r / g, bar, met }' >>"$1"
}

rows=("$@"); [ ${#rows[@]} -gt 0 ] || rows=(10000 1000000)
for n in "${rows[@]}"; do
  "$work/mixed" make "$n" "$work/rows.csv"
  repeats=1; [ "$n" -le 100000 ] && repeats=3
  "$work/mixed" fit "$work/rows.csv" $((repeats * repeats * repeats)) >"$work/go" 2>"$work/printed"
  Rscript "$here/mixed.R" "$work/rows.csv" "$repeats" >"$work/r"
  bar=20; [ "$n" -ge 1000000 ] && bar=100
  row "$work/table" "$n" "columns in memory to fit and Satterthwaite" "$(value "$work/go" memory)" "$(value "$work/r" memory)" $bar
  row "$work/table" "$n" "CSV to printed estimates" "$(value "$work/go" csv)" "$(value "$work/r" csv)" 40
  row "$work/table" "$n" "columns in memory, R without Satterthwaite" "$(value "$work/go" memory)" "$(value "$work/r" plain)" ""
  awk -v n="$n" -v g="$(value "$work/go" criterion)" -v r="$(value "$work/r" criterion)" 'BEGIN {
    printf "%d rows: REML criterion %.9f, R %.9f, difference %.3g%s\n", n, g, r, g - r, (g - r > 1e-6) ? ": ABOVE" : "" }' >>"$work/agree"
  for i in 0 1 2 3; do
    awk -v i="$i" -v n="$n" -v ge="$(value "$work/go" estimate$i)" -v re="$(value "$work/r" estimate$i)" \
      -v gs="$(value "$work/go" se$i)" -v rs="$(value "$work/r" se$i)" \
      -v gd="$(value "$work/go" df$i)" -v rd="$(value "$work/r" df$i)" 'BEGIN {
      printf "%d rows, coefficient %d: estimate %.9g (R %.9g), standard error %.7g (R %.7g), df %.6g (R %.6g)\n", n, i, ge, re, gs, rs, gd, rd }' >>"$work/agree"
  done
done
versions=$(value "$work/r" versions)

"$work/bootstrap" make 40 10 "$work/sums.csv"
"$work/bootstrap" run "$work/sums.csv" 50 >"$work/go"
Rscript "$here/bootstrap.R" "$work/sums.csv" 5 >"$work/r"
line() { row "$work/resampled" "$1" "$2" "$(value "$work/go" "$3")" "$(value "$work/r" "$4")" "$5"; }
for what in swimmers sessions; do
  n=40; [ $what = sessions ] && n=400
  line "$n $what" "percentile interval, boot by frequencies" $what $what 8
  line "$n $what" "percentile interval, boot by indices" $what ${what}_index 8
  line "$n $what" "percentile and BCa intervals, boot by frequencies" ${what}_bca ${what}_bca 8
  line "$n $what" "percentile interval, one matrix product in R without boot" $what ${what}_product ""
done
line "40 swimmers, then 10 sessions each" "percentile interval, boot by indices" levels levels 8
for key in estimate swimmers_se swimmers_low swimmers_high swimmers_bca_low swimmers_bca_high \
  sessions_se sessions_low sessions_high sessions_bca_low sessions_bca_high levels_se levels_low levels_high; do
  # 2,000 draws give a standard error to 1.6 % and a limit to about 6 % of it; four of either.
  awk -v k="$key" -v g="$(value "$work/go" $key)" -v r="$(value "$work/r" $key)" -v se="$(value "$work/r" "${key%%_*}_se")" 'BEGIN {
    d = g - r; if (d < 0) d = -d
    slack = k == "estimate" ? 1e-12 : (k ~ /_se$/ ? 0.09 * se : 0.34 * se)
    printf "%s %.6g, R %.6g%s\n", k, g, r, (d > slack) ? ": DISAGREE" : "" }' >>"$work/close"
done

{
  echo "# CPU seconds against R"
  echo
  echo "Written by \`make bench-peers\` on $(date -u +%F), $(nproc --all) cores of $(sed -n 's/^model name.*: //p' /proc/cpuinfo | head -1), $(go version | cut -d' ' -f3), $versions, $(value "$work/r" versions). One run on a machine shared with other work: expect a fifth more or less. CPU is user and system time, of all threads; loading R's packages is not counted. Bars are the least ratio asked for."
  echo
  echo "## Mixed models"
  echo
  echo "y ~ x1 + x2 + x2^2 + (1 + x1 + x2 | unit) + (1 | unit:group), REML, lmerControl(calc.derivs = FALSE); 20 groups a unit, 15 to 35 rows a group. Summing the rows is counted."
  echo
  echo "| rows | from | CPU s here | CPU s in R | ratio | bar |"
  echo "|---|---|---|---|---|---|"
  cat "$work/table"
  echo
  echo "Agreement (the criterion here may lie at most 1e-6 above R's, whose optimiser stops before its last digits):"
  echo
  sed 's/^/- /' "$work/agree"
  echo
  echo "## Cluster bootstrap"
  echo
  echo "2,000 replicates of a correlation within sessions, from the sums of squares and products of each cluster."
  echo
  echo "| clusters | what | CPU s here | CPU s in R | ratio | bar |"
  echo "|---|---|---|---|---|---|"
  cat "$work/resampled"
  echo
  echo "Agreement (different random numbers):"
  echo
  sed 's/^/- /' "$work/close"
} | tee "$here/peers.md"
if grep -qE 'MISSED|ABOVE|DISAGREE' "$here/peers.md"; then echo "a bar was missed" >&2; exit 1; fi
