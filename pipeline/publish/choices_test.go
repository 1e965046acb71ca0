package publish

import (
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/findings"
)

// TestChoicesAreTheRows counts the picture's estimates, and finds the study's
// own among them.
func TestChoicesAreTheRows(t *testing.T) {
	in := invented(9)
	specks, own := 0, 0
	b := builder{PageInput: in, digits: 1, unit: "bpm"}
	f, ok := b.choices("freestyle", findings.Designed)
	if !ok {
		t.Fatal("no picture")
	}
	for _, d := range f.Drawings[0].Dots {
		switch d.Class {
		case "speck":
			specks++
		case "point":
			own++
		}
	}
	if specks != 39 || own != 1 {
		t.Errorf("%d estimates and %d of the study's own, want 39 and 1", specks, own)
	}
	x := func(d dot) string { return d.X }
	if order := f.Drawings[0].Dots; slices.ContainsFunc(order[1:], func(d dot) bool { return x(d) == x(order[0]) }) {
		t.Error("two estimates stand on one place")
	}
	if _, ok := b.choices("freestyle", findings.Observed); ok {
		t.Error("a picture of no rows")
	}
}

// TestSquadRatesLeaveSwimmersOut shows the squad's rows alone.
func TestSquadRatesLeaveSwimmersOut(t *testing.T) {
	in := invented(9)
	in.ByRate = append(in.ByRate, inventedSwimmer().CostByRate...)
	b := builder{PageInput: in, digits: 1, unit: "bpm"}
	f, ok := b.squadRates("freestyle", findings.Designed)
	if !ok || len(f.Table.Rows) != 2 {
		t.Fatalf("%v, %d rows, want the squad's 2", ok, len(f.Table.Rows))
	}
	if text := f.Table.Rows[0][1].Text; !strings.HasPrefix(text, "+1.9") {
		t.Errorf("the first row reads %s", text)
	}
}
