package main

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/pipeline/study"
)

// A word is planted wherever somebody can write freely: a name of a file, an archive
// or a header, a remark, a cell that is no number, what a watch believes of its
// wearer. People write names there, so no word may be found in what is published,
// nor in what is printed by pseudonym.
func TestNoPlantedWordLeaves(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "squad")
	where := []string{} // by number of the word
	plant := func(place string) string {
		where = append(where, place)
		return fmt.Sprintf("Zqplant%03dx", len(where)-1)
	}
	files := plantedFiles(t, plant)
	files["study.yaml"] = []byte(`study: planted
inputs:
  - {path: "inbox/{swimmer}/*.fit", kind: activity, stroke_count: cycles}
  - {path: "inbox/*.zip", kind: activity, stroke_count: cycles}
  - {path: "inbox/*.fit", kind: activity, stroke_count: cycles}
  - {path: "sheets/*.csv", kind: sheet, stroke_count: arms}
  - {path: "pulse/*.csv", kind: heart-rate}
roster: roster.csv
assign: assign.csv
notes: notes.csv
`)
	for name, data := range files {
		path := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	command := func(want int, args ...string) string {
		t.Helper()
		var out, words bytes.Buffer
		code := runCommand(context.Background(), args, outside{stdout: &out, stderr: &words, folder: folder, width: 80})
		if code != want {
			t.Fatalf("%v: code %d\n%s%s", args, code, out.String(), words.String())
		}
		return out.String() + words.String()
	}
	command(exitDone, "init", folder, "-q") // makes the key
	command(exitDone, "run", "-q")

	word := regexp.MustCompile(`(?i)zqplant(\d{3})x`)
	looked := 0
	look := func(place, text string) {
		looked++
		for _, form := range []string{text, strings.ReplaceAll(text, "\x00", "")} { // as UTF-16 too
			for _, found := range word.FindAllStringSubmatch(form, -1) {
				number, _ := strconv.Atoi(found[1])
				t.Errorf("%s holds the word planted in %s", place, where[number])
			}
		}
	}
	walk := func(top string) {
		err := filepath.WalkDir(top, func(path string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			look(path, path+"\n"+string(data))
			if strings.HasSuffix(path, ".parquet") {
				look("the text of "+path, printed(t, path))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	walk(filepath.Join(folder, "out"))
	for _, args := range [][]string{{"tables", "ledger", "--format", "csv"}, {"tables", "bouts", "--format", "json"}, {"verify", "--json"}, {"verify", "--tables"}} {
		look(strings.Join(args, " "), command(exitDone, args...))
	}
	if looked < 60 {
		t.Fatalf("only %d texts were looked at", looked)
	}

	for _, kind := range []string{"file", "length", "repeat", "roster", "note", "heart-rate"} { // every kind of place was met by a rule
		if ledger := command(exitDone, "tables", "ledger", "--format", "csv", "--columns", "kind,rule"); !strings.Contains(ledger, "\n"+kind+",") {
			t.Errorf("no record of the kind %s is in the ledger: what was planted there was not read\n%s", kind, ledger)
		}
	}
	if bouts := command(exitDone, "tables", "bouts", "--format", "csv", "--columns", "equipment"); !strings.Contains(bouts, "other") {
		t.Errorf("the planted equipment was not read:\n%s", bouts)
	}

	// The words are in what the squad alone sees: the search can find them.
	private := ""
	for _, name := range []string{"files.csv", "swimmers.csv", "made-from.json"} {
		data, err := os.ReadFile(filepath.Join(folder, study.PrivateFolder, name))
		if err != nil {
			t.Fatal(err)
		}
		private += string(data)
	}
	if n := len(slices.Compact(word.FindAllString(private, -1))); n < 5 {
		t.Errorf("only %d planted words are in the private folder: the search shows little", n)
	}

	// Whoever is forgotten is nowhere but in inputs and lists.
	command(exitDone, "forget", "Gone "+fmt.Sprintf("Zqplant%03dx", slices.Index(where, "the name of somebody who leaves")), "--yes")
	walk(filepath.Join(folder, "out"))
	gone := regexp.MustCompile(fmt.Sprintf(`(?i)zqplant%03dx`, slices.Index(where, "the name of somebody who leaves")))
	err := filepath.WalkDir(filepath.Join(folder, study.PrivateFolder), func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err == nil && gone.MatchString(path+string(data)) {
			t.Errorf("%s still holds the name of whoever was forgotten", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// plantedFiles are the inputs and lists of a study with a word in every place.
func plantedFiles(t *testing.T, plant func(place string) string) map[string][]byte {
	t.Helper()
	swim := func(day int, serial uint32) []byte {
		a := activityfile.Activity{StartUTC: time.Date(2026, 6, day, 6, 30, 0, 0, time.UTC), Serial: serial, PoolMetres: 25,
			ProductName: plant("the name of a product"), Profile: &activityfile.Profile{Name: plant("a watch's name of its wearer"), MassKG: 60}}
		for i := range 8 {
			a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: float64(24 * i), DurationSeconds: 24 - float64(i%3)/8, Strokes: 9 + i%2})
		}
		a.Laps = []activityfile.Lap{{DurationSeconds: 24 * 8, Lengths: 8, DistanceMetres: 200}}
		data, err := activityfile.Encode(a, activityfile.Quirks{})
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	anna, gone := "Anna "+plant("a name of the roster"), "Gone "+plant("the name of somebody who leaves")
	var packed bytes.Buffer
	archive := zip.NewWriter(&packed)
	for name, data := range map[string][]byte{plant("a folder in an archive") + "/" + plant("a file in an archive") + ".fit": swim(3, 5), plant("a broken file in an archive") + ".fit": []byte("no activity " + plant("the bytes of a file that is no activity"))} {
		member, err := archive.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := member.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := archive.Close(); err != nil {
		t.Fatal(err)
	}
	broken := swim(4, 6)
	sheet := "swimmer,date,start,session,set,rep,distance_m,pool,stroke,time,strokes,count,hr,hr_source,instruction,rate_target,breathing,kick,equipment,notes," + plant("a header nobody knows") + "\n"
	row := func(name string, rep int, session, set, stroke, seconds, strokes, source, instruction, target, breathing, kick, equipment, notes string) string {
		return fmt.Sprintf("%s,2026-06-0%d,18:05,%s,%s,%d,100,25m,%s,%s,%s,arms,140,%s,%s,%s,%s,%s,%s,%s,x\n", name, 1+rep/8, session, set, rep%8+1, stroke, seconds, strokes, source, instruction, target, breathing, kick, equipment, notes)
	}
	sheet += row(anna, 0, plant("a session's name"), plant("a set's name"), "free", "80", "60", "strap", "usual", "", "", "light", plant("equipment"), plant("a remark")) +
		row(anna, 1, "a", "b", plant("a stroke"), "80", "60", "strap", "usual", "", "", "light", "", "") +
		row(anna, 2, "a", "b", "free", plant("a time"), "60", "strap", "", "", "", "", "", "") +
		row(anna, 3, "a", "b", "free", "80", plant("strokes"), "strap", "", "", "", "", "", "") +
		row(anna, 4, "a", "b", "free", "80", "61", plant("a source of heart rate"), plant("an instruction"), plant("a rate to swim at"), plant("breathing"), plant("a kick"), "", "") +
		row(gone, 5, "a", "b", "free", "82", "61", "strap", "", "", "", "", "", plant("a remark of who leaves")) +
		row("Nobody "+plant("a name that nobody has"), 6, "a", "b", "free", "82", "61", "strap", "", "", "", "", "", "") +
		row(anna, 7, "a", "b", "free", "81", "61", "strap", "usual", "", "", "none", "", "")
	return map[string][]byte{
		"inbox/" + anna + "/" + plant("a file's name") + ".fit":               swim(1, 1),
		"inbox/" + gone + "/" + plant("a file's name of who leaves") + ".fit": swim(2, 2),
		"inbox/" + plant("an archive's name") + ".zip":                        packed.Bytes(),
		"inbox/" + plant("a cut file's name") + ".fit":                        broken[:len(broken)/2],
		"inbox/" + plant("a file that is none") + ".fit":                      []byte(plant("bytes")),
		"sheets/" + plant("a sheet's name") + ".csv":                          []byte(sheet),
		"sheets/" + plant("a sheet without sense") + ".csv":                   []byte(plant("a lone header") + ",b\n" + plant("a lone cell") + ",2\n"),
		"pulse/" + plant("a log's name") + ".csv":                             []byte("swimmer,timestamp,hr," + plant("a log's header") + "\n" + anna + "," + plant("a time of a log") + ",140\n" + anna + ",2026-06-01T06:31:00Z," + plant("a pulse") + "\n"),
		plant("a file that no input claims") + ".txt":                         []byte("x"),
		"roster.csv": []byte("swimmer,aliases,squad,sex,birth_year,hr_rest,device,consent," + plant("a roster's header") + "\n" +
			anna + "," + plant("an alias") + "," + plant("a squad's name") + ",f,1999,58,1,yes,x\n" +
			gone + ",," + plant("another squad's name") + "," + plant("a sex") + "," + plant("a year of birth") + "," + plant("a resting pulse") + "," + plant("a device") + ",yes,x\n" +
			"Late " + plant("a name without consent") + ",,,,,,,,\n"),
		"assign.csv": []byte("file,swimmer\n" + plant("a file that is not there") + ".fit," + anna + "\ninbox/" + plant("another file") + ".fit,Who " + plant("an owner nobody knows") + "\n"),
		"notes.csv": []byte("swimmer,date,rep_from,rep_to,key,value\n" + anna + ",2026-06-01,1,2,kick," + plant("a note's kick") + "\n" +
			anna + ",2026-06-01,1,2," + plant("a note's key") + "," + plant("a note's value") + "\n" +
			anna + ",2026-06-01,1,2,equipment," + plant("a note's equipment") + "\n" +
			anna + ",2026-06-01,1,2,phase," + plant("a note's phase") + "\n" +
			anna + "," + plant("a note's date") + ",1,2,kick,none\n" +
			"Who " + plant("a note's name") + ",2026-06-01,1,2,kick,none\n"),
	}
}
