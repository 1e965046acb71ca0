package main

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

// Every command's help fits 80 columns and says which exit codes there are.
func TestHelpFits(t *testing.T) {
	var all func(cmd *cobra.Command) []*cobra.Command
	all = func(cmd *cobra.Command) []*cobra.Command {
		list := []*cobra.Command{cmd}
		for _, sub := range cmd.Commands() {
			list = append(list, all(sub)...)
		}
		return list
	}
	root := newRoot(outside{stdout: &bytes.Buffer{}, stderr: &bytes.Buffer{}, width: 80})
	seen := 0
	for _, cmd := range all(root) {
		if strings.Contains(cmd.CommandPath(), "completion ") {
			continue // scripts of the shells' own
		}
		seen++
		var out bytes.Buffer
		cmd.SetOut(&out)
		if err := cmd.Help(); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(out.String(), "\n") {
			if utf8.RuneCountInString(line) > 80 {
				t.Errorf("%s: %d columns: %s", cmd.CommandPath(), utf8.RuneCountInString(line), line)
			}
			if strings.TrimRight(line, " ") != line {
				t.Errorf("%s: spaces at the end of %q", cmd.CommandPath(), line)
			}
		}
		if !strings.Contains(out.String(), "Usage:\n  lengthwise") {
			t.Errorf("%s: no usage in its help", cmd.CommandPath())
		}
	}
	if seen < 15 {
		t.Errorf("only %d commands seen", seen)
	}
}

func TestFill(t *testing.T) {
	for text, want := range map[string]string{
		"one two\nthree four":       "one two\nthree four",
		"one\ntwo\nthree\n\nfour":   "one two\nthree\n\nfour",
		"as\n  it is written here":  "as\n  it is written here",
		"immeasurable":              "immeasurable",
		"":                          "",
		"one two three\n\n  code x": "one two\nthree\n\n  code x",
	} {
		if got := fill(text, 10); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestHeadingsStandOut(t *testing.T) {
	text := "A heading\nof two lines\n  under it\n\nNo heading at all\n\nLast\n  x\n"
	want := "\x1b[1mA heading\x1b[0m\n\x1b[1mof two lines\x1b[0m\n  under it\n\nNo heading at all\n\n\x1b[1mLast\x1b[0m\n  x\n"
	if got := emphasised(text, true); got != want {
		t.Errorf("%q", got)
	}
	if got := emphasised(text, false); got != text {
		t.Errorf("without colour: %q", got)
	}
}
