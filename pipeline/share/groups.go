package share

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// What outsiders may know of a swimmer, and a set may tell of them.
const (
	Sex     = "sex"
	AgeBand = "age_band"
	Squad   = "squad"
)

// Person is what a set would tell of a swimmer, by quasi-identifier; "" is not
// known.
type Person map[string]string

// ErrTooFew says that a study has fewer swimmers than the smallest group.
var ErrTooFew = errors.New("too few swimmers to be released")

// hidden stands for a value that is not told.
const hidden = "\x00"

// Hide takes values off people until each combination of what is left, hidden
// values counting as one, is shared by k of them or more: first the last of the
// quasi-identifiers, then the one before it, of those people whose combination is
// too rare, and of as many others of what is left in common with them as it takes to
// make k. Where not enough can be spared the smallest other group joins whole. What
// is hidden is left out of the people given back. smallest is the size of the
// smallest group that is left. It fails with ErrTooFew where there are fewer than k
// people.
func Hide(people []Person, quasi []string, k int) (shown []Person, smallest int, err error) {
	if len(people) < k {
		return nil, 0, fmt.Errorf("%w: %d of them, and the smallest group is %d", ErrTooFew, len(people), k)
	}
	rows := make([][]string, len(people))
	for i, p := range people {
		rows[i] = make([]string, len(quasi))
		for j, q := range quasi {
			rows[i][j] = p[q]
		}
	}
	for j := len(quasi) - 1; j >= 0; j-- {
		for _, class := range classes(rows) {
			if len(class) < k {
				hideFrom(rows, class, j)
			}
		}
		for _, class := range classes(rows) {
			if len(class) < k && rows[class[0]][j] == hidden {
				borrow(rows, class, j, k)
			}
		}
	}
	for {
		all := classes(rows)
		if len(all) == 0 {
			break
		}
		least := slices.MinFunc(all, func(a, b []int) int { return cmp.Compare(len(a), len(b)) })
		if len(least) >= k {
			smallest = len(least)
			break
		}
		hideFrom(rows, least, 0)
		nothing := slices.IndexFunc(classes(rows), func(class []int) bool { return rows[class[0]][0] == hidden })
		if class := classes(rows)[nothing]; len(class) < k && !borrow(rows, class, 0, k) {
			others := slices.Delete(classes(rows), nothing, nothing+1)
			hideFrom(rows, slices.MinFunc(others, func(a, b []int) int { return cmp.Compare(len(a), len(b)) }), 0)
		}
	}
	shown = make([]Person, len(people))
	for i := range rows {
		shown[i] = Person{}
		for j, q := range quasi {
			if rows[i][j] != hidden {
				shown[i][q] = rows[i][j]
			}
		}
	}
	return shown, smallest, nil
}

// hideFrom hides the values of some rows from the j-th on.
func hideFrom(rows [][]string, some []int, j int) {
	for _, i := range some {
		for at := j; at < len(rows[i]); at++ {
			rows[i][at] = hidden
		}
	}
}

// borrow hides values from the j-th on of as many rows as a class lacks to be k, of
// those that share the values before it and can be spared; false, and nothing is
// hidden, where they are not enough.
func borrow(rows [][]string, class []int, j, k int) bool {
	want := k - len(class)
	var spare []int
	for _, other := range classes(rows) {
		if slices.Equal(rows[other[0]][:j], rows[class[0]][:j]) && rows[other[0]][j] != hidden && len(other) > k {
			spare = append(spare, other[k:]...)
		}
	}
	if len(spare) < want {
		return false
	}
	hideFrom(rows, spare[:want], j)
	return true
}

// classes are the rows that are equal, in order of their values.
func classes(rows [][]string) [][]int {
	by := map[string][]int{}
	for i, r := range rows {
		key := strings.Join(r, "\x01")
		by[key] = append(by[key], i)
	}
	var out [][]int
	for _, key := range slices.Sorted(maps.Keys(by)) {
		out = append(out, by[key])
	}
	return out
}

// Count is how many people share a value; Hidden where that is not told.
type Count struct {
	Variable, Value string
	N               int
	Hidden          bool
}

// notKnown is the value of people of whom nothing is known.
const notKnown = "not-known"

// Counts counts people by each quasi-identifier. A count below k is hidden; where
// the hidden ones of a variable come to less than k together the smallest of the
// others is hidden too, for the number of all people would give them away.
func Counts(people []Person, quasi []string, k int) []Count {
	var out []Count
	for _, q := range quasi {
		by := map[string]int{}
		for _, p := range people {
			by[cmp.Or(p[q], notKnown)]++
		}
		var counts []Count
		hiddenSum, hiddenCells := 0, 0
		for _, value := range slices.Sorted(maps.Keys(by)) {
			c := Count{Variable: q, Value: value, N: by[value], Hidden: by[value] < k}
			if c.Hidden {
				hiddenSum, hiddenCells = hiddenSum+c.N, hiddenCells+1
			}
			counts = append(counts, c)
		}
		for hiddenCells > 0 && (hiddenCells < 2 || hiddenSum < k) {
			least := -1
			for i, c := range counts {
				if !c.Hidden && (least < 0 || c.N < counts[least].N) {
					least = i
				}
			}
			if least < 0 {
				break
			}
			counts[least].Hidden = true
			hiddenSum, hiddenCells = hiddenSum+counts[least].N, hiddenCells+1
		}
		out = append(out, counts...)
	}
	return out
}

// raisedFor is by how much the smallest group grows, in halves of itself, where
// swimmers are or may be under 18: our own choice, no source. Local rules on
// minors' data come before it.
const raisedFor = 1.5

// Threshold is the smallest group of a set in which some swimmers are, or may be,
// under 18: half as many again.
func Threshold(smallest int, minors bool) int {
	if !minors {
		return smallest
	}
	return int(float64(smallest)*raisedFor + 0.5)
}

// Band is the age band of somebody born in birthYear, in the year given; "" where
// it is not known. The year of the eighteenth birthday counts as under 18.
func Band(birthYear, year int) string {
	if birthYear == 0 {
		return ""
	}
	switch age := year - birthYear; {
	case age <= 18:
		return Minor
	case age < 30:
		return "18-29"
	case age < 60:
		return fmt.Sprintf("%d-%d", age/10*10, age/10*10+9)
	}
	return "60-and-over"
}

// Minor is the age band of swimmers who are, or in the study's last year were,
// under 18.
const Minor = "under-18"
