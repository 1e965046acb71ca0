package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/csv"
	"html"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf16"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
)

// shortestSecret is how many letters a text must have to be looked for.
const shortestSecret = 5

// planted are what must be found nowhere but in inputs, the private folder and what
// a command prints for the squad's own eyes: names and aliases, serial numbers,
// paths, the key.
func planted(t *testing.T, folder string) []string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(folder, "roster.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var secrets []string
	add := func(text string) {
		if text = strings.ToLower(strings.TrimSpace(text)); len(text) >= shortestSecret {
			secrets = append(secrets, text)
		}
	}
	for _, row := range rows[1:] {
		for i, header := range rows[0] {
			switch header {
			case "swimmer", "aliases", "device":
				for text := range strings.SplitSeq(row[i], ";") {
					add(text)
				}
			}
		}
	}
	key, err := os.ReadFile(filepath.Join(folder, "study.key"))
	if err != nil {
		t.Fatal(err)
	}
	add(string(key))
	add(folder)
	for _, list := range []string{"inbox", "sheets", "pulse"} {
		err := filepath.WalkDir(filepath.Join(folder, list), func(path string, entry fs.DirEntry, err error) error {
			if err == nil && !entry.IsDir() {
				rel, _ := filepath.Rel(folder, path)
				add(filepath.ToSlash(rel))
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(secrets) < 300 {
		t.Fatalf("only %d secrets to look for", len(secrets))
	}
	return secrets
}

// TestNoSecretLeaves greps every byte that the demo study publishes, releases, packs
// and prints by pseudonym.
func TestNoSecretLeaves(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the whole demo")
	}
	folder := filepath.Join(t.TempDir(), "planted-folder")
	run := func(args ...string) string {
		t.Helper()
		var out, words bytes.Buffer
		o := outside{stdout: &out, stderr: &words, folder: filepath.Dir(folder), width: 80}
		if code := runCommand(context.Background(), args, o); code != exitDone {
			t.Fatalf("%v: code %d\n%s%s", args, code, out.String(), words.String())
		}
		return out.String() + words.String()
	}
	run("demo", folder, "-q")
	secrets := planted(t, folder)
	// One pass over a text: secrets by their first bytes, in each form they may have.
	inPage := regexp.MustCompile(`;base64,([^"']+)["']`)
	byStart := map[string][]string{}
	for _, secret := range secrets {
		for _, form := range []string{secret, strings.ReplaceAll(secret, "/", `\/`), wide(secret)} {
			byStart[form[:shortestSecret]] = append(byStart[form[:shortestSecret]], form)
		}
	}
	looked, bytesLooked := 0, 0
	look := func(where, text string) {
		for _, carried := range inPage.FindAllStringSubmatch(text, -1) { // files that a page carries
			data, err := base64.StdEncoding.DecodeString(html.UnescapeString(carried[1]))
			if err != nil {
				t.Fatalf("%s: %v", where, err)
			}
			text += "\n" + string(data)
		}
		looked, bytesLooked = looked+1, bytesLooked+len(text)
		lower := strings.ToLower(text)
		for i := 0; i+shortestSecret <= len(lower); i++ {
			for _, form := range byStart[lower[i:i+shortestSecret]] {
				if strings.HasPrefix(lower[i:], form) {
					t.Fatalf("%s holds %q", where, form)
				}
			}
		}
	}
	released, pack := filepath.Join(filepath.Dir(folder), "set"), filepath.Join(filepath.Dir(folder), "pack.zip")
	// What is printed by pseudonym. The folder itself is where the user said.
	for _, args := range [][]string{
		{"verify", "--study", folder, "--json"}, {"verify", "--tables", "--study", folder},
		{"tables", "--study", folder}, {"version"}, {"release", released, "--study", folder}, {"evidence", pack, "--study", folder, "-q"},
	} {
		look(strings.Join(args, " "), strings.ReplaceAll(run(args...), folder, ""))
	}
	f, err := os.ReadDir(filepath.Join(folder, "out", "tables"))
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range f {
		name, _, _ := strings.Cut(entry.Name(), ".")
		if name != "heart_rate" {
			look("tables "+name, run("tables", name, "--study", folder, "--format", "json"))
		}
	}
	for _, place := range []string{filepath.Join(folder, "out"), released} {
		err := filepath.WalkDir(place, func(path string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			rel, _ := filepath.Rel(place, path)
			look(rel, rel+"\n"+string(data))
			if strings.HasSuffix(rel, ".parquet") && !strings.Contains(rel, "heart_rate") {
				look("the text of "+rel, printed(t, path))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	archive, err := zip.OpenReader(pack)
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	for _, member := range archive.File {
		in, err := member.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(in)
		in.Close()
		if err != nil {
			t.Fatal(err)
		}
		look("the pack's "+member.Name, member.Name+"\n"+string(data))
	}
	// Beside the result nothing is left that was not there: no log, no cache outside
	// the private folder.
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{"inbox": true, "sheets": true, "pulse": true, "out": true, study.PrivateFolder: true, "study.key": true, ".out.lock": true}
	for _, entry := range entries {
		if name := entry.Name(); !known[name] && filepath.Ext(name) == "" && name != ".gitignore" {
			t.Errorf("%s is beside the result", name)
		}
	}
	if looked < 150 || bytesLooked < 10_000_000 {
		t.Errorf("only %d texts of %d bytes were looked at", looked, bytesLooked)
	}
	t.Logf("%d secrets looked for in %d texts, %.1f MB", len(secrets), looked, float64(bytesLooked)/1e6)
}

func printed(t *testing.T, path string) string {
	t.Helper()
	f, err := table.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var texts []string
	for _, c := range f.Columns() {
		if c.Type == table.String {
			texts = append(texts, c.Name)
		}
	}
	if len(texts) == 0 {
		return ""
	}
	var b bytes.Buffer
	if err := table.Print(&b, f, table.CSV, texts, -1); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// wide is a text as UTF-16 would have it, little-endian.
func wide(text string) string {
	var b strings.Builder
	for _, unit := range utf16.Encode([]rune(text)) {
		b.WriteByte(byte(unit))
		b.WriteByte(byte(unit >> 8))
	}
	return b.String()
}
