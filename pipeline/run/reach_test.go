package run

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

const twoSwimmers = smallSheet +
	"Otto Brack,2026-03-02,1,100,25m,free,80,60\nOtto Brack,2026-03-02,2,100,25m,free,80,60\nTess Vane,2026-03-02,1,100,25m,free,80,60\n"

func TestChangesOfNobodyAreRefused(t *testing.T) {
	cases := []struct {
		name, roster, changes, want string
	}{
		{"known", "swimmer,aliases,consent\nOtto Brack,Otto,yes\nTess Vane,,yes\n", "[{name: c, on: 2026-03-02, swimmers: [otto, Tess Vane]}]", ""},
		{"of the roster, without files", "swimmer,consent\nOtto Brack,yes\nUma Fell,yes\n", "[{name: c, on: 2026-03-02, swimmers: [Uma Fell]}]", ""},
		{"misspelt", "swimmer,consent\nOtto Brack,yes\nTess Vane,yes\n", "[{name: c, on: 2026-03-02, swimmers: [Oto Brack]}]", `changes[1].swimmers: nobody here is called "Oto Brack"; did you mean Otto Brack?`},
		{"twice by alias", "swimmer,aliases,consent\nOtto Brack,Otto,yes\n", "[{name: c, on: 2026-03-02, swimmers: [Otto]}, {name: c, on: 2026-03-09, swimmers: [Otto Brack]}]", "is in change 1 of the same name already"},
		{"no roster", "", "[{name: c, on: 2026-03-02, swimmers: [Otto Brack]}]", ""},
		{"no roster, no file", "", "[{name: c, on: 2026-03-02, swimmers: [Uma Fell]}]", `nobody here is called "Uma Fell"`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			files := map[string]string{"sheets/lane1.csv": twoSwimmers}
			if c.roster != "" {
				files["roster.csv"] = c.roster
			}
			s := attentionStudy(t, files)
			text, err := os.ReadFile(filepath.Join(s.Folder, "study.yaml"))
			if err != nil {
				t.Fatal(err)
			}
			put(t, s.Folder, map[string]string{"study.yaml": string(text) + "changes: " + c.changes + "\n"})
			if s, err = study.Load(filepath.Join(s.Folder, "study.yaml")); err != nil {
				t.Fatal(err)
			}
			_, err = Assess(context.Background(), s, Options{})
			var problems *study.Problems
			switch {
			case c.want == "" && err != nil:
				t.Errorf("refused: %v", err)
			case c.want != "" && (!errors.As(err, &problems) || !strings.Contains(err.Error(), c.want)):
				t.Errorf("error %v, want one with %q", err, c.want)
			}
		})
	}
}

// TestNotesNameNobody: a swimmer's name in a tag of the squad's own goes no
// further than the ledger's mark.
func TestNotesNameNobody(t *testing.T) {
	s := attentionStudy(t, map[string]string{
		"sheets/lane1.csv": twoSwimmers,
		"roster.csv":       "swimmer,aliases,consent\nOtto Brack,Otto,yes\nTess Vane,,yes\n",
		"notes.csv": "swimmer,date,key,value\nOtto Brack,2026-03-02,lane,\"behind tess  vane, close\"\n" +
			"Otto Brack,2026-03-02,with_otto,yes\nOtto Brack,2026-03-02,phase,lottos taper\nTess Vane,2026-03-02,equipment,Otto's paddles\n",
	})
	r, err := Assess(context.Background(), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, e := range r.Ledger {
		if e.Rule == read.RuleNamesSomebody {
			found++
		}
		if strings.Contains(strings.ToLower(e.Detail), "vane") {
			t.Errorf("the ledger holds a name: %s", e.Detail)
		}
	}
	if found != 3 {
		t.Errorf("%d notes taken out, want 3", found)
	}
}
