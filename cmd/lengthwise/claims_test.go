package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"lengthwise/pipeline/simulated"
	"lengthwise/schemas"
)

// A claim is a sentence or a part of one that says what the method does, with what backs
// it: rows of the kept simulation, a test, a table that a test keeps, or a formula.
type claim struct{ place, words, by, backing string }

func claims(t *testing.T) []claim {
	t.Helper()
	f, err := os.Open("../../pipeline/simulated/claims.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 20 {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	var out []claim
	for _, r := range rows[1:] {
		out = append(out, claim{r[0], r[1], r[2], r[3]})
	}
	return out
}

// Every claim of the register stands where it says, and what backs it holds.
func TestClaimsAreBacked(t *testing.T) {
	rows, err := simulated.Rows()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range claims(t) {
		text, err := os.ReadFile(filepath.Join("../..", c.place))
		if err != nil || !strings.Contains(string(text), c.words) {
			t.Errorf("%s does not say %q (%v)", c.place, c.words, err)
		}
		switch c.by {
		case "simulate":
			for _, b := range strings.Fields(c.backing) {
				if err := simulationHolds(rows, b, c.words); err != nil {
					t.Errorf("%q: %v", c.words, err)
				}
			}
		case "test":
			file, name, _ := strings.Cut(c.backing, " ")
			source, err := os.ReadFile(filepath.Join("../..", file))
			if err != nil || !strings.Contains(string(source), "\nfunc "+name+"(t *testing.T)") {
				t.Errorf("%q: there is no %s in %s (%v)", c.words, name, file, err)
			}
		case "table":
			file, line, _ := strings.Cut(c.backing, " ")
			table, err := os.ReadFile(filepath.Join("../..", file))
			if err != nil || !strings.Contains(string(table), line) {
				t.Errorf("%q: %s does not hold %q (%v)", c.words, file, line, err)
			}
		case "formula":
			for _, b := range strings.Fields(c.backing) {
				m := regexp.MustCompile(`^exp\((-?[\d.]+)/([\d.]+)\)=([\d.]+)$`).FindStringSubmatch(b)
				if m == nil {
					t.Errorf("%q: %q is no formula that this test reads", c.words, b)
					continue
				}
				var x [3]float64
				for i := range x {
					x[i], _ = strconv.ParseFloat(m[i+1], 64) // the pattern lets numbers alone through
				}
				percent := fmt.Sprintf("%.0f %%", 100*x[2])
				if math.Abs(math.Exp(x[0]/x[1])-x[2]) > 0.0005 || !strings.Contains(c.words, percent) {
					t.Errorf("%q: %s does not hold, or %s is not said", c.words, b, percent)
				}
			}
		default:
			t.Errorf("%q is backed by %q, which nobody knows", c.words, c.by)
		}
	}
}

// simulationHolds holds that a cell of the kept table has the value that a claim says, as
// cell/estimator/column=value, or that those of a design have none beyond it, with <=.
func simulationHolds(rows []schemas.Simulation, backing, words string) error {
	m := regexp.MustCompile(`^([\w-]+)/([\w-]+)/(\w+)(=|<=)(-?[\d.]+)$`).FindStringSubmatch(backing)
	if m == nil {
		return fmt.Errorf("%q says nothing of the table", backing)
	}
	want, err := strconv.ParseFloat(m[5], 64)
	if err != nil {
		return err
	}
	looked := 0
	most := math.Inf(-1)
	for _, r := range rows {
		if r.Estimator != m[2] || r.Cell != m[1] && r.Design != m[1] {
			continue
		}
		v := reflect.ValueOf(r)
		for i := range v.NumField() {
			name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("parquet"), ",")
			f := v.Field(i)
			if name != m[3] || f.Kind() == reflect.Pointer && f.IsNil() {
				continue
			}
			if f.Kind() == reflect.Pointer {
				f = f.Elem()
			}
			looked++
			most = math.Max(most, f.Float())
		}
	}
	shown := fmt.Sprintf("%.1f %%", want)
	switch {
	case looked == 0 || m[4] == "=" && looked != 1:
		return fmt.Errorf("%s: %d values", backing, looked)
	case m[4] == "=" && most != want, m[4] == "<=" && most > want:
		return fmt.Errorf("%s: it is %g", backing, most)
	case want != 0 && !strings.Contains(words, shown):
		return fmt.Errorf("%s: %s is not said", backing, shown)
	}
	return nil
}

// Nothing is claimed of the method that is not in the register: every line of the
// README's account of it that says how often something held, was right or false.
func TestNothingIsClaimedWithoutBacking(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, account, found := strings.Cut(string(readme), "\n## How it is done\n")
	account, _, ends := strings.Cut(account, "\n## ")
	if !found || !ends {
		t.Fatal("the README has no account of how it is done")
	}
	all := claims(t)
	says := regexp.MustCompile(`\d(?:\.\d+)? ?%|\d bpm off`)
	of := regexp.MustCompile(`\bheld\b|\bfalse\b|\bright\b|\bwrong\b|\bread \+|\bread too small\b|\bfound\b|\bcovered\b|\boff \(|where rates were set|pulses counted`)
	lines := 0
	rows := strings.Split(account, "\n")
	for i, line := range rows {
		if i+1 < len(rows) && strings.HasPrefix(rows[i+1], "|---") {
			continue // the head of a table
		}
		for _, sentence := range regexp.MustCompile(`\. [A-Z]`).Split(line, -1) {
			if !says.MatchString(sentence) || !of.MatchString(sentence) {
				continue
			}
			lines++
			backed := false
			for _, c := range all {
				backed = backed || strings.Contains(line, c.words)
			}
			if !backed {
				t.Errorf("no claim of the register backs %q", sentence)
			}
		}
	}
	if lines < 15 {
		t.Errorf("%d claims looked at", lines)
	}
}
