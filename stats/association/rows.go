package association

import (
	"cmp"
	"math"
	"slices"
)

type row struct{ x, y float64 }

// subjectRows holds the rows of one subject, session by session.
type subjectRows struct {
	sessions [][]row
	rows     int
}

// arrange sorts rows by subject and session, and then forgets the labels:
// rows within a session, sessions within a subject, and subjects are put in
// order of their values. A nil session puts each subject's rows in one.
func arrange(subject, session []int, x, y []float64) []subjectRows {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		var bySession int
		if session != nil {
			bySession = cmp.Compare(session[a], session[b])
		}
		return cmp.Or(cmp.Compare(subject[a], subject[b]), bySession,
			cmp.Compare(x[a], x[b]), cmp.Compare(y[a], y[b]))
	})
	var out []subjectRows
	for at, i := range order {
		newSubject := at == 0 || subject[i] != subject[order[at-1]]
		if newSubject {
			out = append(out, subjectRows{})
		}
		s := &out[len(out)-1]
		if newSubject || session != nil && session[i] != session[order[at-1]] {
			s.sessions = append(s.sessions, nil)
		}
		last := &s.sessions[len(s.sessions)-1]
		*last = append(*last, row{x[i], y[i]})
		s.rows++
	}
	for _, s := range out {
		slices.SortFunc(s.sessions, compareRows)
	}
	slices.SortFunc(out, func(a, b subjectRows) int {
		return slices.CompareFunc(a.sessions, b.sessions, compareRows)
	})
	return out
}

func compareRows(a, b []row) int {
	return slices.CompareFunc(a, b, func(p, q row) int {
		return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.y, q.y))
	})
}

// moments returns the subject's sessions as moments about the subject's mean.
func (s subjectRows) moments() []Moments {
	origin := s.sessions[0][0]
	var shift row
	for _, session := range s.sessions {
		for _, r := range session {
			shift.x += r.x - origin.x
			shift.y += r.y - origin.y
		}
	}
	// Measured from the first row, so that equal values deviate by exactly 0.
	mean := row{origin.x + shift.x/float64(s.rows), origin.y + shift.y/float64(s.rows)}
	out := make([]Moments, len(s.sessions))
	for i, session := range s.sessions {
		for _, r := range session {
			out[i] = out[i].with(r.x-mean.x, r.y-mean.y)
		}
	}
	return out
}

// total returns the moments of all sessions together.
func total(sessions []Moments) Moments {
	var m Moments
	for _, s := range sessions {
		m = m.Add(s)
	}
	return m
}

func checkColumns(x, y []float64) error {
	if len(y) != len(x) {
		return &LengthError{What: "y", Got: len(y), Want: len(x)}
	}
	for i := range x {
		if math.IsNaN(x[i]) || math.IsInf(x[i], 0) {
			return &NotFiniteError{What: "x", Index: i, Value: x[i]}
		}
		if math.IsNaN(y[i]) || math.IsInf(y[i], 0) {
			return &NotFiniteError{What: "y", Index: i, Value: y[i]}
		}
	}
	return nil
}

// smallestSquare is where squares begin to lose their digits.
const smallestSquare = 1e-290

// checkVariation refuses columns that do not vary within any subject beyond
// the rounding of their values.
func checkVariation(x, y []float64, p pool) error {
	for _, c := range []struct {
		what   string
		values []float64
		xx     float64
	}{{"x", x, p.xx}, {"y", y, p.yy}} {
		if math.IsInf(c.xx, 0) || math.IsNaN(c.xx) || c.xx > 0 && c.xx < smallestSquare {
			return &RangeError{What: "sum of squares of " + c.what, Value: c.xx, Want: "values whose squares are in range: change units"}
		}
		var largest float64
		for _, v := range c.values {
			largest = max(largest, math.Abs(v))
		}
		unit := 8 * 0x1p-52 * largest
		if !(c.xx > float64(len(c.values))*unit*unit) {
			return &NoVariationError{What: c.what}
		}
	}
	return nil
}
