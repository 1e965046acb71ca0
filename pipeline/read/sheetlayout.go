package read

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// sheetView is where one swim of a row stands: under our columns, in which
// cells. A plain sheet has one view, a wide one a view for each repeat (or
// length) side by side.
type sheetView struct {
	at     map[string]int     // our column -> cell
	says   map[string]heading // what the header says of the column beside
	group  groupKind          // "" in a plain sheet
	number int
	name   string // bySwimmer: whose cells these are
	own    []int  // the cells of this repeat alone, nil in a plain sheet
}

// part says in words which part of a row the view is, "" for all of it.
func (v *sheetView) part() string {
	if v.group == "" {
		return ""
	}
	return fmt.Sprintf("%s %d", v.group, v.number)
}

// layout is how a sheet's columns are to be read.
type layout struct {
	views   []sheetView
	shared  []string       // wide: columns that all repeats of a row share
	unused  []int          // cells of the header of which nothing is known
	foreign []int          // wide: known columns that stand once for all repeats and are of one of them
	atEnd   map[string]int // lengths side by side: what was measured after the last of them
	twice   []string       // our columns that stand more than once; the first is used
}

// wide reports whether repeats stand side by side.
func (l *layout) wide() bool { return len(l.views) > 0 && l.views[0].group != "" }

// has reports whether a column stands somewhere.
func (l *layout) has(column string) bool {
	if column == "swimmer" && len(l.views) > 0 && l.views[0].group == bySwimmer {
		return true
	}
	return slices.ContainsFunc(l.views, func(v sheetView) bool { _, ok := v.at[column]; return ok })
}

// known counts the cells of a row that are headers of ours, as csvFind asks.
func (h *headings) known(cells []string) int {
	n, words := 0, map[string]bool{}
	h.hearTempo(cells)
	for _, cell := range cells {
		found, ok := h.of(cell)
		if !ok {
			found, ok = h.grouped(cell)
		}
		if ok {
			n++
			words[found.column] = true
		}
	}
	if len(words) < fewestHeaders {
		return 0
	}
	return n
}

// hearTempo finds out by the other headers what tempo means.
func (h *headings) hearTempo(header []string) {
	h.tempo = slices.ContainsFunc(header, func(cell string) bool { return tempoWords[headerKey(cell)] })
}

// perSwim are the columns whose cells belong to one swim: where a wide sheet
// has them once for a whole row, nobody can say to which.
var perSwim = []string{"time", "strokes", "hr", countColumn, "rpe", "lactate", "lactate_before", "vo2", "notes"}

// layout tells how a table with this header is read; above are the cells of the
// line above it, which may name the repeats of a wide sheet.
func (h *headings) layout(header, above []string) *layout {
	h.hearTempo(header)
	plain := make([]heading, len(header))
	grouped := make([]heading, len(header))
	for i, cell := range header {
		plain[i], _ = h.of(cell)
		grouped[i], _ = h.grouped(cell)
	}
	if l := groupedLayout(header, plain, grouped); l != nil {
		return l
	}
	if l := repeatedLayout(header, above, plain); l != nil {
		return l
	}
	l := &layout{views: []sheetView{newView()}}
	l.place(&l.views[0], plain, header, nil)
	return l
}

func newView() sheetView { return sheetView{at: map[string]int{}, says: map[string]heading{}} }

// place puts the headings of some cells into a view: of several for one column
// the one that outranks the others, of equal ones the first.
func (l *layout) place(v *sheetView, found []heading, header []string, only func(i int) bool) {
	taken := map[string]int{}
	for i, d := range found {
		if only != nil && !only(i) {
			continue
		}
		if d.column == "" {
			if strings.TrimSpace(header[i]) != "" {
				l.unused = append(l.unused, i)
			}
			continue
		}
		before, again := v.at[d.column]
		switch {
		case !again || d.rank < v.says[d.column].rank:
			if again {
				l.unused = append(l.unused, before)
			}
			v.at[d.column], v.says[d.column] = i, d
			taken[d.column] = 1
		default:
			l.unused = append(l.unused, i)
			if d.rank == v.says[d.column].rank {
				taken[d.column]++
			}
		}
	}
	for i, d := range found { // in the order of the header
		if d.column != "" && taken[d.column] > 1 && v.at[d.column] == i {
			l.twice = append(l.twice, d.column)
		}
	}
	slices.Sort(l.unused)
}

// groupedLayout reads rep1_time, rep1_strokes, rep2_time ...; nil when the
// header is no such. Numbers without a word for them must run from 1 on: 25
// time, 50 time are something else.
func groupedLayout(header []string, plain, grouped []heading) *layout {
	type key struct {
		group  groupKind
		number int
	}
	numbers := map[key]bool{} // with a time
	for _, d := range grouped {
		if d.column == "time" {
			numbers[key{d.group, d.number}] = true
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	kind := groupKind("")
	for k := range numbers {
		if kind != "" && kind != k.group {
			return nil // two kinds of groups: nobody can say which is in which
		}
		kind = k.group
	}
	var order []int
	for k := range numbers {
		order = append(order, k.number)
	}
	slices.Sort(order)
	if !saysGroup(header, grouped) && order[len(order)-1] != len(order) {
		return nil
	}
	l := &layout{}
	in := make([]bool, len(header)) // the cell belongs to a group
	for i, d := range grouped {
		// hr10 is a count over 10 s, unless there is a tenth repeat.
		in[i] = d.column != "" && numbers[key{d.group, d.number}] && (plain[i].column == "" || plain[i].column == d.column || plain[i].column == countColumn && d.column == "hr")
	}
	shared := newView()
	l.place(&shared, plain, header, func(i int) bool { return !in[i] })
	l.shareOut(shared, func(yield func(sheetView)) {
		for _, n := range order {
			v := newView()
			v.group, v.number = kind, n
			l.place(&v, grouped, header, func(i int) bool { return in[i] && grouped[i].number == n })
			yield(v)
		}
	})
	return l
}

// saysGroup reports whether a time's header says what its number counts.
func saysGroup(header []string, grouped []heading) bool {
	for i, d := range grouped {
		if d.column != "time" {
			continue
		}
		for _, token := range headerTokens(header[i]) {
			if groupWords[token] != "" {
				return true
			}
		}
	}
	return false
}

// shareOut gives each repeat's view the columns of the whole row. Those of one
// swim are given to none.
func (l *layout) shareOut(shared sheetView, groups func(yield func(sheetView))) {
	groups(func(v sheetView) {
		for _, i := range v.at {
			v.own = append(v.own, i)
		}
		slices.Sort(v.own)
		l.views = append(l.views, v)
	})
	l.atEnd = map[string]int{}
	for column, i := range shared.at {
		if l.views[0].group == byLength && column != "time" && column != "strokes" && slices.Contains(perSwim, column) {
			l.atEnd[column] = i
			continue
		}
		if slices.Contains(perSwim, column) || column == string(l.views[0].group) {
			l.foreign = append(l.foreign, i)
			continue
		}
		l.shared = append(l.shared, column)
		for k := range l.views {
			if _, own := l.views[k].at[column]; !own {
				l.views[k].at[column], l.views[k].says[column] = i, shared.says[column]
			}
		}
	}
	slices.Sort(l.foreign)
	slices.Sort(l.shared)
	slices.Sort(l.twice)
	l.twice = slices.Compact(l.twice)
}

// repeatedLayout reads a header in which time and strokes stand several times,
// once for each repeat, with or without a line above that numbers the repeats;
// nil when the header is no such.
func repeatedLayout(header, above []string, plain []heading) *layout {
	count, first := map[string]int{}, map[string]int{}
	for i, d := range plain {
		if d.column == "" {
			continue
		}
		if count[d.column]++; count[d.column] == 1 {
			first[d.column] = i
		}
	}
	n := count["time"]
	if n < 2 || count["strokes"] != n {
		return nil
	}
	// The groups begin with the column that stands first of those that stand
	// as often as the time.
	lead := "time"
	for column, times := range count {
		if times == n && cmp.Or(cmp.Compare(first[column], first[lead]), cmp.Compare(column, lead)) < 0 {
			lead = column
		}
	}
	var starts []int
	for i, d := range plain {
		if d.column == lead {
			starts = append(starts, i)
		}
	}
	groupOf := func(i int) int { // -1: shared by all
		if d := plain[i]; d.column == "" || count[d.column] < 2 {
			return -1
		}
		k, found := slices.BinarySearch(starts, i)
		if !found {
			k--
		}
		return k
	}
	kind, numbers := groupLabels(above, starts)
	l := &layout{}
	shared := newView()
	l.place(&shared, plain, header, func(i int) bool { return groupOf(i) < 0 })
	var names []string
	if _, named := shared.at["swimmer"]; !named {
		if names = groupNames(above, starts); names != nil {
			kind = bySwimmer
		}
	}
	l.shareOut(shared, func(yield func(sheetView)) {
		for k := range starts {
			v := newView()
			if v.group, v.number = kind, numbers[k]; names != nil {
				v.number, v.name = k+1, names[k]
			}
			l.place(&v, plain, header, func(i int) bool { return groupOf(i) == k })
			yield(v)
		}
	})
	return l
}

// groupNames gives the names over groups of columns, one for each and each
// another; nil when they are no names. A sheet without a column of swimmers has
// them side by side.
func groupNames(above []string, starts []int) []string {
	var names []string
	for _, from := range starts {
		if from >= len(above) {
			return nil
		}
		label := strings.TrimSpace(above[from])
		if _, _, numbered := groupNumber(label); numbered || slices.Contains(names, label) || strings.IndexFunc(label, unicode.IsLetter) < 0 {
			return nil
		}
		names = append(names, label)
	}
	return names
}

// groupLabels numbers groups by the line above the header where each of its
// labels does, and otherwise by their order. In a merged cell the label stands
// over the first column of its group alone.
func groupLabels(above []string, starts []int) (groupKind, []int) {
	kind, numbers := byRep, make([]int, len(starts))
	seen := map[int]bool{}
	for k, from := range starts {
		if from >= len(above) {
			break
		}
		group, n, ok := groupNumber(above[from])
		if !ok || seen[n] || k > 0 && group != kind {
			break
		}
		seen[n] = true
		if kind, numbers[k] = group, n; k == len(starts)-1 && slices.Max(numbers) <= max(len(starts), 12) {
			return kind, numbers
		}
	}
	for k := range numbers {
		numbers[k] = k + 1
	}
	return byRep, numbers
}
