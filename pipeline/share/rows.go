package share

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"lengthwise/schemas"
)

// Disguise gives rows of a study the names and ids of a release.
type Disguise struct {
	Swimmers map[string]string // pseudonym of the study -> of the release
	Sessions map[string]string // likewise
	Smallest int               // rows of fewer swimmers than this are left out
	Guard    *Guard

	LeftOut int // rows left out since too few swimmers stand behind them
}

// The columns that a disguise knows.
const (
	columnSwimmer  = "swimmer"
	columnSession  = "session"
	columnSwimmers = "swimmers"
	columnScope    = "scope"
	columnChange   = "change"
	columnChanges  = "changes"
)

// Rows gives the rows of a result table as a release may hold them, in order of
// the new names. Rows of the squad behind which stand fewer swimmers than the
// smallest group are left out. It fails where a row has a swimmer or session that
// the disguise does not know, and where a text names somebody: nothing is guessed.
func Rows[T any](d *Disguise, table string, rows []T) ([]T, error) {
	columns, err := columnsOf(reflect.TypeFor[T]())
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", table, err)
	}
	out := make([]T, 0, len(rows))
	for i := range rows {
		row := rows[i]
		v := reflect.ValueOf(&row).Elem()
		few, err := d.disguise(v, columns)
		if err != nil {
			return nil, fmt.Errorf("table %s, row %d: %w", table, i+1, err)
		}
		if few {
			d.LeftOut++
			continue
		}
		out = append(out, row)
	}
	if at, ok := columns[columnSwimmer]; ok {
		slices.SortStableFunc(out, func(a, b T) int {
			return cmp.Compare(textOf(reflect.ValueOf(a).Field(at)), textOf(reflect.ValueOf(b).Field(at)))
		})
	}
	return out, nil
}

func columnsOf(t reflect.Type) (map[string]int, error) {
	columns := map[string]int{}
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("parquet"), ",")
		if name == "" {
			return nil, fmt.Errorf("the field %s names no column", t.Field(i).Name)
		}
		columns[name] = i
	}
	return columns, nil
}

// disguise changes one row in place; few says that too few swimmers stand behind
// it.
func (d *Disguise) disguise(row reflect.Value, columns map[string]int) (few bool, err error) {
	who := ""
	if at, ok := columns[columnSwimmer]; ok {
		who = textOf(row.Field(at))
	}
	if at, ok := columns[columnSwimmers]; ok && who == "" && row.Field(at).Kind() == reflect.Int32 && int(row.Field(at).Int()) < d.Smallest {
		return true, nil
	}
	for name, at := range columns {
		f := row.Field(at)
		if f.Kind() == reflect.Pointer {
			if f.IsNil() || f.Type().Elem().Kind() != reflect.String {
				continue
			}
			fresh := reflect.New(f.Type().Elem())
			fresh.Elem().Set(f.Elem())
			f.Set(fresh)
			f = fresh.Elem()
		}
		if f.Kind() != reflect.String || f.Len() == 0 {
			continue
		}
		text, ok := f.String(), true
		switch name {
		case columnSwimmer:
			text, ok = d.Swimmers[text]
		case columnSession:
			text, ok = d.Sessions[text]
		case columnChange, columnChanges:
			if text, err = d.Guard.Label(text); err != nil {
				return false, fmt.Errorf("column %s: %w", name, err)
			}
		default:
			if text, err = d.Guard.Text(text); err != nil {
				return false, fmt.Errorf("column %s: %w", name, err)
			}
		}
		if !ok {
			return false, fmt.Errorf("column %s: a %s that the study's table of them does not list", name, name)
		}
		f.SetString(text)
	}
	return false, nil
}

func textOf(v reflect.Value) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	return v.String()
}

// Findings are the sentences about the squad behind which stand enough swimmers;
// what is said of one swimmer stays with the squad.
func Findings(rows []schemas.Finding, smallest int) []schemas.Finding {
	var out []schemas.Finding
	for _, row := range rows {
		if row.Swimmer == nil && int(row.N) >= smallest {
			out = append(out, row)
		}
	}
	return out
}

// LeftOut counts the ledger by kind, rule and action.
func LeftOut(ledger []schemas.LedgerEntry) []schemas.ReleasedLeftOut {
	by := map[schemas.ReleasedLeftOut]int64{}
	for _, e := range ledger {
		by[schemas.ReleasedLeftOut{Kind: e.Kind, Rule: e.Rule, Action: e.Action}] += e.Records
	}
	var out []schemas.ReleasedLeftOut
	for row, n := range by {
		row.Records = n
		out = append(out, row)
	}
	slices.SortFunc(out, func(a, b schemas.ReleasedLeftOut) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Action, b.Action))
	})
	return out
}
