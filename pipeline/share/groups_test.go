package share

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Whatever the people, every combination that is told is shared by k of them, and
// what is told of somebody is what is known.
func TestHide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		quasi := []string{Sex, AgeBand, Squad}[:rapid.IntRange(0, 3).Draw(t, "quasi-identifiers")]
		k, n := rapid.IntRange(1, 12).Draw(t, "k"), rapid.IntRange(0, 60).Draw(t, "people")
		people := make([]Person, n)
		for i := range people {
			people[i] = Person{Sex: rapid.SampledFrom([]string{"f", "m", ""}).Draw(t, "sex"),
				AgeBand: fmt.Sprint(rapid.IntRange(1, 4).Draw(t, "band")), Squad: fmt.Sprint(rapid.IntRange(1, 3).Draw(t, "squad"))}
		}
		shown, smallest, err := Hide(people, quasi, k)
		if n < k {
			if !errors.Is(err, ErrTooFew) {
				t.Fatalf("%d people in groups of %d: %v", n, k, err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		sizes := map[string]int{}
		for i, p := range shown {
			sizes[fmt.Sprint(p)]++
			for q, v := range p {
				if v != people[i][q] || !slices.Contains(quasi, q) {
					t.Fatalf("%s told as %q, is %q", q, v, people[i][q])
				}
			}
		}
		least := n
		for _, size := range sizes {
			least = min(least, size)
		}
		if n > 0 && (least < k || smallest != least) {
			t.Fatalf("the smallest group has %d, said to be %d, asked for %d", least, smallest, k)
		}
	})
}

// What need not be hidden is told, and the last quasi-identifier goes first.
func TestHideNoMoreThanNeeded(t *testing.T) {
	var people []Person
	for i := range 20 {
		people = append(people, Person{Sex: []string{"f", "m"}[i%2], Squad: "squad-1"})
	}
	shown, smallest, err := Hide(people, []string{Sex, Squad}, 10)
	if err != nil || smallest != 10 || shown[0][Sex] != "f" || shown[1][Squad] != "squad-1" {
		t.Errorf("%v, %d, %v", shown[0], smallest, err)
	}
	people[0][Squad] = "squad-2"
	shown, smallest, err = Hide(people, []string{Sex, Squad}, 5)
	if err != nil || smallest < 5 || shown[2][Squad] != "squad-1" || shown[0][Squad] != "" {
		t.Errorf("%v %v, %d, %v", shown[0], shown[2], smallest, err)
	}
}

// A hidden count cannot be had from the number of all people and the counts told.
func TestCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, n := rapid.IntRange(2, 12).Draw(t, "k"), rapid.IntRange(1, 60).Draw(t, "people")
		people := make([]Person, n)
		for i := range people {
			people[i] = Person{Squad: rapid.SampledFrom([]string{"", "a", "b", "c", "d"}).Draw(t, "squad")}
		}
		counts := Counts(people, []string{Squad}, k)
		told, cells, hiddenSum := 0, 0, 0
		for _, c := range counts {
			if c.N < k && !c.Hidden {
				t.Fatalf("%+v is told", c)
			}
			told += c.N
			if c.Hidden {
				cells, hiddenSum = cells+1, hiddenSum+c.N
			}
		}
		if told != n {
			t.Fatalf("%d of %d people counted", told, n)
		}
		if cells > 0 && cells < len(counts) && (cells < 2 || hiddenSum < k) {
			t.Fatalf("the %d hidden counts come to %d: %+v", cells, hiddenSum, counts)
		}
	})
}

func TestBandsAndThreshold(t *testing.T) {
	for _, c := range []struct {
		born int
		want string
	}{{0, ""}, {2020, Minor}, {2008, Minor}, {2007, "18-29"}, {1997, "18-29"}, {1996, "30-39"}, {1967, "50-59"}, {1966, "60-and-over"}, {1930, "60-and-over"}} {
		if got := Band(c.born, 2026); got != c.want {
			t.Errorf("born %d: %q, want %q", c.born, got, c.want)
		}
	}
	if Threshold(10, false) != 10 || Threshold(10, true) != 15 || Threshold(5, true) != 8 || Threshold(1, true) != 2 {
		t.Error(Threshold(10, false), Threshold(10, true), Threshold(5, true), Threshold(1, true))
	}
}
