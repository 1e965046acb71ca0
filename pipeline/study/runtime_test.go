package study

import (
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"pgregory.net/rapid"
)

// Each setting is crossed over flag, variable and default: a typed flag wins,
// then the variable, then the default.
func TestRuntimeFlagVariableDefault(t *testing.T) {
	auto := runtime.GOMAXPROCS(0)
	cases := []struct {
		name     string
		args     []string
		env      map[string]string
		terminal bool
		want     Runtime
		err      string
	}{
		{name: "defaults", want: Runtime{auto, "private/cache", false}},
		{name: "terminal", terminal: true, want: Runtime{auto, "private/cache", true}},
		{name: "variables", env: map[string]string{WorkersVariable: "3", CacheVariable: "c"}, want: Runtime{3, "c", false}},
		{name: "flags", args: []string{"--workers=2", "--cache=d"}, want: Runtime{2, "d", false}},
		{name: "flags over variables", args: []string{"--workers=2", "--cache=d"}, env: map[string]string{WorkersVariable: "3", CacheVariable: "c"}, want: Runtime{2, "d", false}},
		{name: "one of each", args: []string{"--workers=2"}, env: map[string]string{CacheVariable: "c"}, want: Runtime{2, "c", false}},
		{name: "empty variable is not set", env: map[string]string{WorkersVariable: "", ColourVariable: ""}, terminal: true, want: Runtime{auto, "private/cache", true}},
		{name: "no colour", env: map[string]string{ColourVariable: "1"}, terminal: true, want: Runtime{auto, "private/cache", false}},
		{name: "no colour, even 0", env: map[string]string{ColourVariable: "0"}, terminal: true, want: Runtime{auto, "private/cache", false}},
		{name: "colour flag over variable", args: []string{"--colour"}, env: map[string]string{ColourVariable: "1"}, want: Runtime{auto, "private/cache", true}},
		{name: "colour flag off", args: []string{"--colour=false"}, terminal: true, want: Runtime{auto, "private/cache", false}},
		{name: "bad variable", env: map[string]string{WorkersVariable: "many"}, err: WorkersVariable},
		{name: "bad flag", args: []string{"--workers=0"}, env: map[string]string{WorkersVariable: "3"}, err: "--workers"},
		{name: "unbound variables", env: map[string]string{"WORKERS": "9", "CACHE": "x", "COLOUR": "true"}, want: Runtime{auto, "private/cache", false}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for _, name := range []string{WorkersVariable, CacheVariable, ColourVariable} {
				t.Setenv(name, "")
			}
			for name, value := range c.env {
				t.Setenv(name, value)
			}
			flags := pflag.NewFlagSet("run", pflag.ContinueOnError)
			flags.Int("workers", 1, "")
			flags.String("cache", "flag-default", "")
			flags.Bool("colour", true, "")
			if err := flags.Parse(c.args); err != nil {
				t.Fatal(err)
			}
			got, err := LoadRuntime(flags, c.terminal)
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) {
					t.Fatalf("error %v does not name %s", err, c.err)
				}
				return
			}
			if err != nil || got != c.want {
				t.Errorf("%+v, %v; want %+v", got, err, c.want)
			}
		})
	}
	if _, err := LoadRuntime(nil, false); err != nil {
		t.Errorf("without flags: %v", err)
	}
}

func TestParsePool(t *testing.T) {
	cases := []struct {
		text   string
		metres float64
	}{
		{"25m", 25}, {"50 m", 50}, {"25y", 22.86}, {"25YD", 22.86}, {"20m", 20}, {"33.3m", 100.0 / 3},
		{"33,33m", 100.0 / 3}, {"33m", 100.0 / 3}, {"33.5m", 100.0 / 3}, {"27.5m", 27.5}, {"22.86m", 22.86},
	}
	for _, c := range cases {
		got, err := ParsePool(c.text)
		if err != nil || math.Abs(got-c.metres) > 1e-12 {
			t.Errorf("%s: %v, %v; want %v", c.text, got, err, c.metres)
		}
		if back, err := ParsePool(PoolText(got)); err != nil || back != got {
			t.Errorf("%s is written %s, which reads %v, %v", c.text, PoolText(got), back, err)
		}
	}
	// 400 yd = 365.76 m by the exact yard of the international agreement of 1959.
	if pool, _ := ParsePool("25y"); math.Abs(16*pool-365.76) > 1e-9 {
		t.Errorf("400 yd = %v m, want 365.76", 16*pool)
	}
	for _, text := range []string{"", "25", "m", "25k", "-25m", "1000m", "5m", "25mm", "2..5m", "NaNm", "1e1m"} {
		if got, err := ParsePool(text); err == nil {
			t.Errorf("%q is read as %v m", text, got)
		}
	}
}

func TestNearest(t *testing.T) {
	words := []string{"seed", "study", "screen", "roster"}
	if got := Nearest("sede", words, 2); !slices.Equal(got, []string{"seed"}) {
		t.Errorf("sede: %q", got)
	}
	if got := Nearest("zzzzzzzz", words, 3); len(got) != 0 {
		t.Errorf("nothing is near, got %q", got)
	}
	if got := Nearest("st", []string{"sb", "sa", "st"}, 2); !slices.Equal(got, []string{"st", "sa"}) {
		t.Errorf("equal distances: %q", got)
	}
}

func TestEditDistanceIsAMetricOfEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		d    int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "abc", 0}, {"abc", "acb", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}} {
		if got := editDistance([]rune(c.a), []rune(c.b)); got != c.d {
			t.Errorf("%q %q: %d, want %d", c.a, c.b, got, c.d)
		}
	}
	word := rapid.SliceOfN(rapid.SampledFrom([]rune("abc")), 0, 6)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := editDistance(a, b)
		if d != editDistance(b, a) || (d == 0) != slices.Equal(a, b) || d > max(len(a), len(b)) {
			t.Fatalf("distance %d", d)
		}
	})
}
