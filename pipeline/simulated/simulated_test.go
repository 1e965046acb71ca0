package simulated

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

func TestKeptTableRoundTrips(t *testing.T) {
	rows, err := Rows()
	if err != nil || len(rows) < 150 {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	data, err := CSV(rows)
	if err != nil {
		t.Fatal(err)
	}
	if string(data) != string(kept) {
		t.Error("written again the kept table has other bytes")
	}
	again, err := Parse(data)
	if err != nil || !reflect.DeepEqual(again, rows) {
		t.Errorf("read again the kept table has other rows: %v", err)
	}
	for _, wrong := range []string{"", "cell\n", strings.Replace(string(kept), ",12,8,8,", ",12,x,8,", 1), string(kept[:len(kept)/2])} {
		if _, err := Parse([]byte(wrong)); err == nil {
			t.Errorf("%.40q is read", wrong)
		}
	}
}

// A study is told by the squads whose sizes, spread and noise are nearest by their ratios.
func TestNearest(t *testing.T) {
	rows, err := Rows()
	if err != nil {
		t.Fatal(err)
	}
	none := math.NaN()
	for _, c := range []struct {
		study Study
		want  string
	}{
		{Study{Designed: true, Swimmers: 12, Sessions: 8, Bouts: 8, RateSpreadPct: 14.1, Noise: 4}, "set-usual-0"},
		{Study{Designed: true, Swimmers: 12, Sessions: 8, Bouts: 8, RateSpreadPct: 4, Noise: 4}, "set-narrow-0"},
		{Study{Designed: true, Swimmers: 5, Sessions: 5, Bouts: 5, RateSpreadPct: none, Noise: none}, "set-small-0"},
		{Study{Designed: true, Swimmers: 14, Sessions: 8, Bouts: 8, RateSpreadPct: 13, Noise: 8}, "set-noisy-0"},
		{Study{Swimmers: 40, Sessions: 9, Bouts: 9, RateSpreadPct: 4, Noise: 4}, "free-large-0"},
		{Study{Swimmers: 12, Sessions: 30, Bouts: 12, RateSpreadPct: 4, Noise: 4}, "free-long-0"},
	} {
		k, ok := Nearest(rows, c.study)
		if got := k.Nothing["swimmer"]; !ok || got.Cell != c.want || k.There["swimmer"].Cell != strings.TrimSuffix(c.want, "-0")+"-3" {
			t.Errorf("%+v: %q, want %q", c.study, got.Cell, c.want)
		}
	}
	if _, ok := Nearest(nil, Study{}); ok {
		t.Error("something is near in an empty table")
	}
}
