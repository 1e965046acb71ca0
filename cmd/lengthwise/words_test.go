package main

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"lengthwise/pipeline/run"
)

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		text  string
		width int
		want  []string
	}{
		{"one two three", 80, []string{"- one two three"}},
		{"one two three", 9, []string{"- one two", "  three"}},
		{"one two three", 8, []string{"- one", "  two", "  three"}},
		{"äöü äöü", 9, []string{"- äöü äöü"}},
		{"immeasurable x", 5, []string{"- immeasurable", "  x"}},
		{"", 5, []string{"-"}},
	} {
		if got := wrap(c.text, c.width, "- ", "  "); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q in %d: %q, want %q", c.text, c.width, got, c.want)
		}
	}
}

func TestCheckZone(t *testing.T) {
	for name, want := range map[string]string{
		"Europe/Lisbon": "", "UTC": "", "America/Argentina/Ushuaia": "",
		"lisbon": "did you mean Europe/Lisbon?", "europe/lisbon": "did you mean Europe/Lisbon?", "Asia/Lisbon": "did you mean Europe/Lisbon?",
		"New York": "did you mean America/New_York?", "local": "such as", "": "such as", "/": "such as", "Łódź": "such as", "../etc": "such as",
	} {
		err := checkZone(name)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", name, err, want)
		}
	}
}

// Many files are cut short unless all are asked for.
func TestReasonLines(t *testing.T) {
	var a run.Attention
	for i := range mostReasons + 3 {
		a.Files = append(a.Files, run.FileLedger{Files: []string{fmt.Sprintf("%d.fit", i), "b", "c", "d", "e"}, Used: true,
			Rules: []run.RuleLedger{{Rule: "r", Action: "noted", Records: 7, Details: []string{"x", "y"}, More: 1}}})
	}
	few, all := reasonLines(a, false, 80), reasonLines(a, true, 80)
	if want := []string{"  0.fit, b, c, and 2 more:", "    r 7 noted: x", "      y", "      ... and 1 more reason like these"}; !reflect.DeepEqual(few[:4], want) {
		t.Errorf("%q, want %q", few[:4], want)
	}
	if len(few) != 4*mostReasons+1 || !strings.Contains(few[len(few)-1], "and 3 more like these") {
		t.Errorf("%d lines, the last %q", len(few), few[len(few)-1])
	}
	if len(all) != 4*len(a.Files) || all[0] != "  0.fit, b, c, d, e:" {
		t.Errorf("%d lines, the first %q", len(all), all[0])
	}
}
