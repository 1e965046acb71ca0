package mixed

import (
	"fmt"
	"slices"
)

// Layout says which columns a row has and what part they play. A constant
// column is an ordinary column of ones (or of any constant) with a name of the
// caller's choice: it is recognised by its values.
type Layout struct {
	// Fixed names the p columns with a fixed effect: one at least.
	Fixed []string
	// Random names the q columns whose effect varies from unit to unit. A name
	// that is in Fixed means that column; any other is a column of its own.
	Random []string
	// Independent sets the correlations between the random effects to zero.
	// The fit then depends on where the columns have their zero.
	Independent bool
	// GroupIntercept adds an intercept that varies from group to group, groups
	// being nested in units.
	GroupIntercept bool
}

// Columns gives the order of values in a row: Fixed, then those of Random that
// are not in Fixed.
func (l Layout) Columns() []string {
	columns := slices.Clone(l.Fixed)
	for _, name := range l.Random {
		if !slices.Contains(l.Fixed, name) {
			columns = append(columns, name)
		}
	}
	return columns
}

func (l Layout) clone() Layout {
	l.Fixed, l.Random = slices.Clone(l.Fixed), slices.Clone(l.Random)
	return l
}

func (l Layout) equal(o Layout) bool {
	return slices.Equal(l.Fixed, o.Fixed) && slices.Equal(l.Random, o.Random) &&
		l.Independent == o.Independent && l.GroupIntercept == o.GroupIntercept
}

func (l Layout) validate() error {
	if len(l.Fixed) == 0 {
		return fmt.Errorf("mixed: %w: no fixed column", ErrLayout)
	}
	if len(l.Random) == 0 && !l.GroupIntercept {
		return fmt.Errorf("mixed: %w: no random effect, this is a linear model", ErrLayout)
	}
	for _, names := range [][]string{l.Fixed, l.Random} {
		for i, name := range names {
			if name == "" {
				return fmt.Errorf("mixed: %w: a column has no name", ErrLayout)
			}
			if slices.Contains(names[:i], name) {
				return fmt.Errorf("mixed: %w: column %q is named twice", ErrLayout, name)
			}
		}
	}
	return nil
}

// component is a variance component in which Var(y) is linear: the covariance
// of random effects i and j (i = j: a variance), or with i = -1 the variance
// of the group intercept.
type component struct{ i, j int }

var groupComponent = component{-1, -1}

// components lists the variance components but for the residual variance.
func (l Layout) components() []component {
	var out []component
	for i := range l.Random {
		for j := i; j < len(l.Random); j++ {
			if i == j || !l.Independent {
				out = append(out, component{i, j})
			}
		}
	}
	if l.GroupIntercept {
		out = append(out, groupComponent)
	}
	return out
}

func (l Layout) describe(c component) string {
	switch {
	case c == groupComponent:
		return "variance of the group intercept"
	case c.i == c.j:
		return fmt.Sprintf("variance of %q between units", l.Random[c.i])
	}
	return fmt.Sprintf("covariance of %q and %q between units", l.Random[c.i], l.Random[c.j])
}
