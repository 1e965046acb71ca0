package read

import (
	"strings"
	"testing"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// Sheets as coaches make them in spreadsheets of several countries: what was
// understood of them in words, and every record with its fate.
func TestSheetsOfCoaches(t *testing.T) {
	for path, data := range sheetFixtures(t, "coach") {
		src := sheetSource(t)
		src.Input.Columns = nil
		if strings.Contains(path, "remapped") {
			src.Input.Columns = map[string]string{"time": "Split", "strokes": "SC", "hr": "Puls", "stroke": "Style"}
		}
		known := src.Owner
		src.Owner = func(name string) identity.Owner {
			if owner := known(name); owner.Swimmer != "" {
				return owner
			}
			return identity.Owner{Swimmer: "s-" + identity.Fold(name)[:3], How: "roster"}
		}
		f, seen, err := Sheet(data, src)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		u, err := UnderstandSheet(data, src, 100)
		if err != nil {
			t.Fatal(err)
		}
		sheetBalance(t, f, sheetRows(t, data, study.Sheet, src.Input.Columns))
		sheetNoNames(t, f.Entries)
		sheetGolden(t, strings.TrimSuffix(path, ".csv")+".golden", strings.Join(append(u.Table, u.Rows...), "\n")+"\n\n"+sheetDump(f, seen))
	}
}
