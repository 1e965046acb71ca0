// Package simulated keeps what simulate gave: how every estimator of the method did on
// squads of known truth. A study cites the row that is nearest to it.
package simulated

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"lengthwise/schemas"
)

//go:embed kept.csv
var kept []byte

// Rows is the kept table. It is read once.
var Rows = sync.OnceValues(func() ([]schemas.Simulation, error) { return Parse(kept) })

// columns are the columns of a row, in order.
func columns() (names []string) {
	t := reflect.TypeFor[schemas.Simulation]()
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("parquet"), ",")
		names = append(names, name)
	}
	return names
}

// CSV writes rows with their header; what there is not is empty.
func CSV(rows []schemas.Simulation) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	all := [][]string{columns()}
	for i := range rows {
		v := reflect.ValueOf(rows[i])
		cells := make([]string, v.NumField())
		for k := range cells {
			f := v.Field(k)
			if f.Kind() == reflect.Pointer {
				if f.IsNil() {
					continue
				}
				f = f.Elem()
			}
			switch f.Kind() {
			case reflect.Float64:
				cells[k] = strconv.FormatFloat(f.Float(), 'g', -1, 64)
			case reflect.Int32:
				cells[k] = strconv.FormatInt(f.Int(), 10)
			default:
				cells[k] = f.String()
			}
		}
		all = append(all, cells)
	}
	if err := w.WriteAll(all); err != nil {
		return nil, fmt.Errorf("table simulation: %w", err)
	}
	return b.Bytes(), nil
}

// Parse reads what CSV wrote. An error names the line and the column.
func Parse(data []byte) ([]schemas.Simulation, error) {
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("table simulation: %w", err)
	}
	names := columns()
	if len(all) == 0 || strings.Join(all[0], ",") != strings.Join(names, ",") {
		return nil, fmt.Errorf("table simulation, line 1: the columns are not %s", strings.Join(names, ", "))
	}
	rows := make([]schemas.Simulation, len(all)-1)
	for i, cells := range all[1:] {
		v := reflect.ValueOf(&rows[i]).Elem()
		for k, cell := range cells {
			f := v.Field(k)
			if f.Kind() == reflect.Pointer {
				if cell == "" {
					continue
				}
				f.Set(reflect.New(f.Type().Elem()))
				f = f.Elem()
			}
			switch f.Kind() {
			case reflect.Float64:
				x, err := strconv.ParseFloat(cell, 64)
				if err != nil {
					return nil, fmt.Errorf("table simulation, line %d, column %s: %w", i+2, names[k], err)
				}
				f.SetFloat(x)
			case reflect.Int32:
				n, err := strconv.ParseInt(cell, 10, 32)
				if err != nil {
					return nil, fmt.Errorf("table simulation, line %d, column %s: %w", i+2, names[k], err)
				}
				f.SetInt(n)
			default:
				f.SetString(cell)
			}
		}
	}
	return rows, nil
}

// Study is what of a study tells which simulated squads are like it. What is not known
// is NaN and does not count.
type Study struct {
	Designed                  bool
	Swimmers, Sessions, Bouts float64 // bouts are those of a session
	RateSpreadPct, Noise      float64
}

// Kind is the rows of squads that are alike but for their effect: Nothing with none,
// There with one of 3 bpm. Both are by estimator.
type Kind struct {
	Nothing, There map[string]schemas.Simulation
}

// Nearest gives the kind of squads that is nearest to a study, by the ratios of their
// sizes, spreads and noise: those of which nothing more is special, such as tiredness.
// false where there is none.
func Nearest(rows []schemas.Simulation, s Study) (Kind, bool) {
	best, least := "", math.Inf(1)
	for _, r := range rows {
		name, paired := strings.CutSuffix(r.Cell, "-0")
		if !paired || (r.Design == "designed") != s.Designed || r.Fatigue > 0 || r.CountErrorPct > 0 || r.MissingPct > 0 || r.HeartRate != "steady" {
			continue
		}
		sum := 0.0
		for _, pair := range [][2]float64{{s.Swimmers, float64(r.Swimmers)}, {s.Sessions, float64(r.Sessions)}, {s.Bouts, float64(r.Bouts)},
			{s.RateSpreadPct, r.RateSpreadPct}, {s.Noise, r.Noise}} {
			if d := math.Log(pair[0] / pair[1]); pair[0] > 0 && pair[1] > 0 {
				sum += d * d
			}
		}
		if sum < least {
			best, least = name, sum
		}
	}
	return OfKind(rows, best), best != ""
}

// OfKind gives the rows of a kind by its name, such as free-tired.
func OfKind(rows []schemas.Simulation, name string) Kind {
	k := Kind{Nothing: map[string]schemas.Simulation{}, There: map[string]schemas.Simulation{}}
	for _, r := range rows {
		switch r.Cell {
		case name + "-0":
			k.Nothing[r.Estimator] = r
		case name + "-3":
			k.There[r.Estimator] = r
		}
	}
	return k
}
