package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/publish/evidence"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// evidencePack makes the demo's pack twice and looks into it.
func evidencePack(t *testing.T, folder string) {
	other := filepath.Join(t.TempDir(), "other.zip")
	quietly(t, "evidence", "--study", folder, "--quiet")
	quietly(t, "evidence", other, "--study", folder, "--quiet")
	data, err := os.ReadFile(filepath.Join(folder, "out", "evidence.zip"))
	if err != nil {
		t.Fatal(err)
	}
	if again, err := os.ReadFile(other); err != nil || !bytes.Equal(again, data) {
		t.Errorf("two packs of one result differ (%v)", err)
	}
	quietly(t, "verify", "--tables", filepath.Join(folder, "out"), "--quiet") // it is no part of the published set
	files := unzipped(t, data)
	holdsNobody(t, folder, files)
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	claimsInTables(t, s, files["claims.json"])
	pairsAreTheTables(t, s)
	t.Run("browser", func(t *testing.T) { packInABrowser(t, files) })
}

func unzipped(t *testing.T, data []byte) map[string][]byte {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if files[f.Name], err = io.ReadAll(in); err != nil {
			t.Fatal(err)
		}
		in.Close()
		if !filepath.IsLocal(f.Name) {
			t.Errorf("a file of the pack is called %q", f.Name)
		}
	}
	return files
}

// holdsNobody looks for the demo's planted names, aliases, device numbers,
// pseudonyms and days in every file, PNG included.
func holdsNobody(t *testing.T, folder string, files map[string][]byte) {
	t.Helper()
	list, err := os.Open(filepath.Join(folder, "roster.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer list.Close()
	rows, err := csv.NewReader(list).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	secrets := namesOf(t, folder)
	for _, row := range rows[1:] {
		for i, column := range rows[0] {
			switch {
			case column == "swimmer" || column == "device" && len(row[i]) > 3:
				secrets = append(secrets, row[i])
			case column == "aliases":
				secrets = append(secrets, strings.Split(row[i], ";")...)
			}
		}
	}
	if len(secrets) < 60 {
		t.Fatalf("only %d names to look for", len(secrets))
	}
	marks := regexp.MustCompile(`\bs-[0-9a-z]{8}\b|\bf-[0-9a-z]{8,}\b|\b20[0-9]{2}-[01][0-9]-[0-3][0-9]\b|saltmouth|quieter-kick`)
	for name, data := range files {
		lower := bytes.ToLower(data)
		for _, secret := range secrets {
			if secret = strings.ToLower(strings.TrimSpace(secret)); secret != "" && bytes.Contains(lower, []byte(secret)) {
				t.Errorf("%s holds %q", name, secret)
			}
		}
		if !strings.HasSuffix(name, ".png") {
			if found := marks.Find(data); found != nil {
				t.Errorf("%s holds %q", name, found)
			}
		}
	}
}

// claimsInTables finds every claim's numbers together in one row of the table
// that it names.
func claimsInTables(t *testing.T, s *study.Study, data []byte) {
	t.Helper()
	var claims []evidence.Claim
	if err := json.Unmarshal(data, &claims); err != nil {
		t.Fatal(err)
	}
	if len(claims) < 15 {
		t.Errorf("only %d claims", len(claims))
	}
	tables := map[string][][]float64{}
	read := func(name string, numbers [][]float64, err error) {
		if err != nil {
			t.Fatal(err)
		}
		tables[name] = numbers
	}
	n, err := numbersOf[schemas.ScoreOverall](s, "score_overall")
	read("score_overall", n, err)
	n, err = numbersOf[schemas.AdviceOverall](s, "advice_overall")
	read("advice_overall", n, err)
	n, err = numbersOf[schemas.Contrast](s, "contrasts")
	read("contrasts", n, err)
	n, err = numbersOf[schemas.Change](s, "changes")
	read("changes", n, err)
	n, err = numbersOf[schemas.Reliability](s, "reliability")
	read("reliability", n, err)
	n, err = numbersOf[schemas.SensitivitySummary](s, "sensitivity_summary")
	read("sensitivity_summary", n, err)
	for _, c := range claims {
		if c.Swimmers < 15 { // half as many again as smallest_group: the demo has swimmers under 18
			t.Errorf("%s is of %d swimmers", c.ID, c.Swimmers)
		}
		if c.Design != "designed" && c.Design != "observed" && c.Design != "" || c.Interval == "" || c.Sentence == "" {
			t.Errorf("claim %+v", c)
		}
		want := []float64{c.Estimate, c.IntervalLow, c.IntervalTop}
		if c.PredictLow != nil {
			want = append(want, *c.PredictLow, *c.PredictHigh)
		}
		found := false
		for _, row := range tables[c.Table] {
			found = found || holdsAll(row, want)
		}
		if !found {
			t.Errorf("%s: no row of %s holds %v", c.ID, c.Table, want)
		}
		if holdsAll([]float64{c.Estimate + 1e-9}, want[:1]) {
			t.Errorf("%s: a number next to it passes for it", c.ID)
		}
	}
}

func holdsAll(row, want []float64) bool {
	for _, w := range want {
		found := false
		for _, v := range row {
			found = found || v == w
		}
		if !found {
			return false
		}
	}
	return true
}

// numbersOf are the numbers of each row of a table.
func numbersOf[T any](s *study.Study, name string) ([][]float64, error) {
	rows, err := rowsOf[T](s, name)
	var out [][]float64
	for _, row := range rows {
		var numbers []float64
		v := reflect.ValueOf(row)
		for i := range v.NumField() {
			f := v.Field(i)
			if f.Kind() == reflect.Pointer && !f.IsNil() {
				f = f.Elem()
			}
			if f.Kind() == reflect.Float64 {
				numbers = append(numbers, f.Float())
			}
		}
		out = append(out, numbers)
	}
	return out, err
}

// pairsAreTheTables counts the pairs that are made anew, and how many agree with
// the score, against score_by_swimmer.
func pairsAreTheTables(t *testing.T, s *study.Study) {
	t.Helper()
	bouts, err := rowsOf[schemas.Bout](s, "bouts")
	if err != nil {
		t.Fatal(err)
	}
	answers, err := rowsOf[schemas.ScoreBySwimmer](s, "score_by_swimmer")
	if err != nil {
		t.Fatal(err)
	}
	type key struct{ swimmer, stroke, design string }
	made := map[key][]analyse.Pair{}
	for _, p := range analyse.MatchedPairs(bouts, s) {
		made[key{p.Swimmer, p.Stroke, string(p.Design)}] = p.Pairs
	}
	compared := 0
	for _, a := range answers {
		if a.Concordance == nil || a.Design == string(analyse.All) {
			continue
		}
		pairs := made[key{a.Swimmer, a.Stroke, a.Design}]
		agree := 0.0
		for _, p := range pairs {
			switch {
			case math.Abs(p.StrokesPct) <= 1e-7 || math.Abs(p.Cost) <= 1e-9:
				agree += 0.5
			case (p.StrokesPct < 0) == (p.Cost < 0):
				agree++
			}
		}
		if len(pairs) != int(a.Pairs) || math.Abs(agree/float64(len(pairs))-*a.Concordance) > 1e-12 {
			t.Errorf("%s %s: %d pairs of which %v agree; the table has %d and %v", a.Swimmer, a.Design, len(pairs), agree, a.Pairs, *a.Concordance)
		}
		compared++
	}
	if compared < 30 {
		t.Errorf("only %d swimmers compared", compared)
	}
}

// packInABrowser lets testdata/tools/evidence.mjs open the pages.
func packInABrowser(t *testing.T, files map[string][]byte) {
	modules, browser := browserTools(t)
	folder := t.TempDir()
	for name, data := range files {
		path := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	defer cancel()
	said, err := exec.CommandContext(ctx, "node", "../../testdata/tools/evidence.mjs", modules, browser, folder).CombinedOutput()
	if err != nil || strings.TrimSpace(string(said)) != "looked" {
		t.Errorf("%v\n%s", err, said)
	}
}
