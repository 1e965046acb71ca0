package publish

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
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

// TestChoicesTableCountsEveryRow finds each specification once under each choice,
// and the ends of the whole under one of its settings.
func TestChoicesTableCountsEveryRow(t *testing.T) {
	rows := invented(9).Sensitivity
	for i := range rows {
		rows[i].Drift = []string{"ln-minutes", "none", "both"}[i%3]
		rows[i].LockRule = "on"
	}
	slices.SortStableFunc(rows, func(x, y schemas.Sensitivity) int { return cmp.Compare(*x.Estimate, *y.Estimate) })
	b := builder{digits: 1, unit: "bpm"}
	table := b.choicesTable("Freestyle", rows)
	ways := map[string]int{}
	lowest, highest, own := false, false, ""
	for _, r := range table.Rows {
		n, err := strconv.Atoi(r[2].Text)
		if err != nil {
			t.Fatal(err)
		}
		ways[r[0].Text] += n
		if strings.Contains(r[0].Text, "drift") {
			lowest = lowest || r[3].Text == signed(*rows[0].Estimate, 1)
			highest = highest || r[5].Text == signed(*rows[len(rows)-1].Estimate, 1)
			if strings.Contains(r[1].Text, "own") {
				own += r[1].Text
			}
		}
	}
	for choice, n := range ways {
		if n != len(rows) {
			t.Errorf("%s: %d of %d ways", choice, n, len(rows))
		}
	}
	if len(ways) == 0 || !lowest || !highest || own != "logarithm of minutes (the study\u2019s own)" {
		t.Errorf("%v, lowest %v, highest %v, own %q", ways, lowest, highest, own)
	}
	for choice := range ways {
		if strings.Contains(choice, "follow the strokes") {
			t.Error("a choice that nobody made otherwise is listed")
		}
	}
}

// Each choice has words: the summary's names are those of the table.
func TestEveryChoiceHasWords(t *testing.T) {
	for _, c := range choiceColumns(schemas.Sensitivity{}) {
		if words := findings.ChoiceWords(c[0]); words == c[0] {
			t.Errorf("%s has no words", c[0])
		}
	}
}
