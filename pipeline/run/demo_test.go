package run

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"lengthwise/datasets"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// demoStudy makes the demo squad's files in a new folder with a key of its
// own.
func demoStudy(t *testing.T) *study.Study {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "squad")
	if err := datasets.WriteDemo(folder); err != nil {
		t.Fatal(err)
	}
	return withKey(t, folder)
}

func withKey(t *testing.T, folder string) *study.Study {
	t.Helper()
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := identity.CreateKey(filepath.Join(folder, s.Privacy.KeyFile)); err != nil {
		t.Fatal(err)
	}
	return s
}

// hashes is the SHA-256 of every file below a folder.
func hashes(t *testing.T, folder string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(folder, path)
		sum := sha256.Sum256(data)
		out[filepath.ToSlash(rel)] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestDemo runs the demo squad once and looks at everything that a run
// promises: the same bytes for any number of workers, the same numbers for
// another key, a balanced account, no name in what may leave.
func TestDemo(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the whole demo three times")
	}
	s := demoStudy(t)
	out := filepath.Join(s.Folder, s.Output)
	r, err := Study(context.Background(), s, Options{Workers: 4})
	if err != nil {
		t.Fatal(err)
	}
	four := hashes(t, out)
	t.Run("one worker gives the same bytes", func(t *testing.T) {
		if _, err := Study(context.Background(), s, Options{Workers: 1}); err != nil {
			t.Fatal(err)
		}
		if one := hashes(t, out); !reflect.DeepEqual(one, four) {
			t.Errorf("%d files with 1 worker, %d with 4", len(one), len(four))
			for name := range four {
				if one[name] != four[name] {
					t.Errorf("%s differs between 1 and 4 workers", name)
				}
			}
		}
	})
	t.Run("another key gives the same numbers", func(t *testing.T) { anotherKey(t, s, r) })
	t.Run("run.json holds what is on disk", func(t *testing.T) { recordHolds(t, out, four) })
	t.Run("accounts balance", func(t *testing.T) {
		if len(r.Accounts) != 4 {
			t.Errorf("%d accounts, want lengths, repeats, rests and heart rate", len(r.Accounts))
		}
		for _, a := range r.Accounts {
			if a.Read != a.Used+a.Excluded || a.Read == 0 || a.Used == 0 || a.Excluded == 0 {
				t.Errorf("%+v", a)
			}
		}
		if r.HeartRate != r.Accounts[3].Used {
			t.Errorf("%d heart-rate rows, %d records used", r.HeartRate, r.Accounts[3].Used)
		}
	})
	t.Run("every rule says what it means", func(t *testing.T) {
		for _, rule := range r.Rules {
			if rule.About == "" {
				t.Errorf("rule %s has no words", rule.Rule)
			}
		}
		for _, e := range r.Ledger {
			if e.FileID == "" {
				t.Fatalf("an entry names no file: %+v", e)
			}
		}
	})
	t.Run("the specification curve begins with the study's own answer", func(t *testing.T) { curveHolds(t, r) })
	t.Run("every number on a page stands in a table", func(t *testing.T) { numbersHold(t, s) })
	t.Run("no name leaves", func(t *testing.T) { noNameLeaves(t, s, out) })
	t.Run("pages come from tables alone", func(t *testing.T) { pagesHold(t, s) })
	t.Run("a release tells no more than it may", func(t *testing.T) { releaseHolds(t, s) })
	t.Run("whoever is forgotten is gone", func(t *testing.T) { forgetHolds(t, s) })
}

// curveHolds checks that the curve holds at least 200 distinct specifications
// of each design and that the first is the study's own answer.
func curveHolds(t *testing.T, r *Result) {
	for _, row := range r.Answers.SensitivitySummary {
		if row.Distinct < 200 || row.Estimated < 200 {
			t.Errorf("%s: %d distinct specifications, %d with an estimate", row.Design, row.Distinct, row.Estimated)
		}
		for _, own := range r.Answers.Overall {
			if own.Design == row.Design && own.Measure == "effect_per_10pct" && (row.Own == nil || math.Abs(*row.Own-*own.Estimate) > 1e-12) {
				t.Errorf("%s: own specification %v, the study's answer %v", row.Design, row.Own, *own.Estimate)
			}
		}
		if row.WithoutLockRule == nil || *row.WithLockRule == *row.WithoutLockRule {
			t.Errorf("%s: the demo's locked heart rates make no difference: %v and %v", row.Design, row.WithLockRule, row.WithoutLockRule)
		}
	}
	if len(r.Answers.SensitivitySummary) != 2 {
		t.Errorf("%d curves, want observed and designed", len(r.Answers.SensitivitySummary))
	}
}

// anotherKey runs the same files under another key and compares, swimmer by
// swimmer, to the last bit.
func anotherKey(t *testing.T, s *study.Study, r *Result) {
	folder := filepath.Join(t.TempDir(), "other")
	if err := os.CopyFS(folder, os.DirFS(s.Folder)); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{s.Privacy.KeyFile, s.Output, study.PrivateFolder} {
		if err := os.RemoveAll(filepath.Join(folder, name)); err != nil {
			t.Fatal(err)
		}
	}
	other, err := Assess(context.Background(), withKey(t, folder), Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	if r.Bouts, err = table.ReadRows[schemas.Bout](filepath.Join(s.Path(s.Output), tablesFolder, "bouts.parquet")); err != nil || len(r.Bouts) != r.Counts.Bouts {
		t.Fatalf("%d bouts in the table, %d counted: %v", len(r.Bouts), r.Counts.Bouts, err)
	}
	byName := func(r *Result) []string {
		var lines []string
		for _, row := range r.Answers.BySwimmer {
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		for _, row := range r.Bouts {
			row.Session = strings.Replace(row.Session, row.Swimmer, "", 1)
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		for _, row := range r.Answers.Contrasts {
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		for _, row := range r.Answers.Changes {
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		for _, row := range r.Answers.HeartCosts {
			row.Session = strings.Replace(row.Session, row.Swimmer, "", 1)
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		for _, row := range r.Answers.Reliability {
			row.Swimmer = r.Name(row.Swimmer)
			lines = append(lines, exact(t, row))
		}
		slices.Sort(lines)
		return lines
	}
	one, two := byName(r), byName(other)
	if len(one) < 100 || len(one) != len(two) {
		t.Fatalf("%d and %d rows", len(one), len(two))
	}
	for i := range one {
		if one[i] != two[i] {
			t.Fatalf("another key changes a row:\n%s\n%s", one[i], two[i])
		}
	}
	for i := range r.Answers.Overall {
		if a, b := exact(t, r.Answers.Overall[i]), exact(t, other.Answers.Overall[i]); a != b {
			t.Errorf("another key changes the squad's row:\n%s\n%s", a, b)
		}
	}
	for i := range r.Answers.Sensitivity {
		if a, b := exact(t, r.Answers.Sensitivity[i]), exact(t, other.Answers.Sensitivity[i]); a != b {
			t.Fatalf("another key changes a specification:\n%s\n%s", a, b)
		}
	}
	if r.Answers.BySwimmer[0].Swimmer == other.Answers.BySwimmer[0].Swimmer {
		t.Error("another key gave the same pseudonym: the comparison shows nothing")
	}
}

// exact writes a row with every number to its last bit.
func exact(t *testing.T, row any) string {
	t.Helper()
	var b strings.Builder
	v := reflect.ValueOf(row)
	for i := range v.NumField() {
		f := v.Field(i)
		if f.Kind() == reflect.Pointer {
			if f.IsNil() {
				b.WriteString("null ")
				continue
			}
			f = f.Elem()
		}
		if f.Kind() == reflect.Float64 {
			fmt.Fprintf(&b, "%x ", math.Float64bits(f.Float()))
			continue
		}
		fmt.Fprintf(&b, "%v ", f)
	}
	return b.String()
}

func recordHolds(t *testing.T, out string, onDisk map[string]string) {
	data, err := os.ReadFile(filepath.Join(out, marker))
	if err != nil {
		t.Fatal(err)
	}
	var record Record
	if err := json.Unmarshal(data, &record); err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, name := range tableNames() {
		if len(record.Tables[name]) == 0 {
			t.Errorf("run.json does not list the table %s", name)
		}
		for _, f := range record.Tables[name] {
			files++
			if onDisk[f.Path] != f.SHA256 {
				t.Errorf("%s: run.json says %s, on disk %s", f.Path, f.SHA256, onDisk[f.Path])
			}
			if err := table.VerifyDigest(filepath.Join(out, f.Path), f.Digest); err != nil {
				t.Error(err)
			}
		}
	}
	parquet := 0
	for name := range onDisk {
		if strings.HasSuffix(name, ".parquet") {
			parquet++
		}
	}
	if files != parquet {
		t.Errorf("run.json lists %d files of tables, there are %d", files, parquet)
	}
	if len(record.Inputs) < 300 || record.Seed == 0 || record.CostUnit != "bpm" {
		t.Errorf("%d inputs, seed %d, cost unit %q", len(record.Inputs), record.Seed, record.CostUnit)
	}
}

func tableNames() []string {
	var names []string
	for _, d := range schemas.Tables() {
		names = append(names, d.Name)
	}
	return names
}

// noNameLeaves looks for every name, alias, serial number, path and the key in
// what may leave the squad: each text of each table, the page and run.json.
func noNameLeaves(t *testing.T, s *study.Study, out string) {
	secrets := secretsOf(t, s)
	if len(secrets) < 60 {
		t.Fatalf("only %d secrets to look for", len(secrets))
	}
	texts := map[string]bool{}
	for _, name := range tableNames() {
		f, err := table.OpenTable(filepath.Join(out, "tables"), name)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := table.Print(&b, f, table.CSV, textColumns(f), -1); err != nil {
			t.Fatal(err)
		}
		f.Close()
		for _, line := range strings.Split(b.String(), "\n") {
			texts[line] = true
		}
	}
	for _, name := range []string{marker, "pages/index.html"} {
		data, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		texts[string(data)] = true
	}
	for text := range texts {
		lower := strings.ToLower(text)
		for _, secret := range secrets {
			if strings.Contains(lower, secret) {
				t.Errorf("%q leaves the squad in %.200q", secret, text)
			}
		}
	}
}

func textColumns(f *table.File) []string {
	var names []string
	for _, c := range f.Columns() {
		if c.Type == table.String {
			names = append(names, c.Name)
		}
	}
	return names
}

// secretsOf lists what must not leave: names and aliases whole and in parts,
// serial numbers, paths of inputs, the key.
func secretsOf(t *testing.T, s *study.Study) []string {
	var secrets []string
	add := func(text string) {
		if text = strings.ToLower(strings.TrimSpace(text)); len(text) >= 4 {
			secrets = append(secrets, text)
		}
	}
	file, err := os.Open(filepath.Join(s.Folder, s.Roster))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		for i, header := range rows[0] {
			switch header {
			case "swimmer", "aliases":
				for _, name := range strings.Split(row[i], ";") {
					add(name)
				}
			case "device":
				add(row[i])
			}
		}
	}
	files, err := s.Find()
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	for _, f := range files.Found {
		add(f.Rel)
	}
	key, err := os.ReadFile(filepath.Join(s.Folder, s.Privacy.KeyFile))
	if err != nil {
		t.Fatal(err)
	}
	add(string(key))
	return secrets
}
