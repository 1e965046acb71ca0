package schemas

import (
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// bare lists the numeric columns that carry no unit, by their name or as
// table.column, with the reason.
var bare = map[string]string{
	"record":              "a running number within a file, not an amount",
	"cost":                "in the unit of the study's cost measure, which run.json names",
	"estimate":            "in the unit of the term, the measure or the sentence",
	"std_error":           "in the estimate's unit",
	"conf_low":            "in the estimate's unit",
	"conf_high":           "in the estimate's unit",
	"predict_low":         "in the estimate's unit",
	"predict_high":        "in the estimate's unit",
	"null_value":          "in the estimate's unit",
	"tau2":                "in the square of the estimate's unit",
	"effect_low":          "in the unit of the cost",
	"cost_by_rate.change": "in the unit of the cost",
	"effect_plain":        "in the unit of the cost", "effect_corrected": "in the unit of the cost",
	"slope_per_10pct": "in the unit of the cost", "slope_low": "in the unit of the cost", "slope_high": "in the unit of the cost",
	"cost_at_usual": "in the unit of the cost", "cost_at_best": "in the unit of the cost",
	"score_advice_cost": "in the unit of the cost", "score_advice_cost_low": "in the unit of the cost", "score_advice_cost_high": "in the unit of the cost",
	"effect_plain_low": "in the unit of the cost", "effect_plain_high": "in the unit of the cost",
	"effect_corrected_low": "in the unit of the cost", "effect_corrected_high": "in the unit of the cost",
	"effect_high":                       "in the unit of the cost",
	"trend_per_30_days":                 "in the unit of the cost, per 30 days",
	"trend_low":                         "in the unit of the cost, per 30 days",
	"trend_high":                        "in the unit of the cost, per 30 days",
	"confounding.effect_per_10pct":      "in the unit of the cost",
	"effect_left":                       "in the unit of the cost",
	"usual_cost":                        "in the unit of the cost",
	"heart_cost":                        "in the unit of the cost",
	"typical_error":                     "in the unit of the cost",
	"typical_error_low":                 "in the unit of the cost",
	"typical_error_high":                "in the unit of the cost",
	"minimal_detectable_change":         "in the unit of the cost",
	"minimal_detectable_change_low":     "in the unit of the cost",
	"minimal_detectable_change_high":    "in the unit of the cost",
	"smallest_worthwhile_change":        "in the unit of the cost",
	"between_sd":                        "in the unit of the cost",
	"fits.sigma":                        "in the unit of the cost",
	"score_by_swimmer.effect_per_10pct": "in the unit of the cost",
	"score_by_source.effect_per_10pct":  "in the unit of the cost",
	"effect_pooled":                     "in the unit of the cost",
	"effect_pooled_low":                 "in the unit of the cost",
	"effect_pooled_high":                "in the unit of the cost",
	"two_stage":                         "in the unit of the cost",
	"changed":                           "in the unit of the cost",
	"lowest":                            "in the unit of the cost",
	"median":                            "in the unit of the cost",
	"highest":                           "in the unit of the cost",
	"own":                               "in the unit of the cost",
	"moves_by":                          "in the unit of the cost",
	"with_lock_rule":                    "in the unit of the cost",
	"with_lock_rule_low":                "in the unit of the cost",
	"with_lock_rule_high":               "in the unit of the cost",
	"without_lock_rule":                 "in the unit of the cost",
	"without_lock_rule_low":             "in the unit of the cost",
	"without_lock_rule_high":            "in the unit of the cost",
	"two_stage_low":                     "in the unit of the cost",
	"two_stage_high":                    "in the unit of the cost",
}

// endings are the units that a column's name promises.
var endings = []struct{ ending, unit string }{
	{"_s_per_100m", "s/100m"}, {"_ml_per_kg_min", "mL/kg/min"},
	{"_per_stroke_m", "m"}, {"_mps", "m/s"}, {"_spm", "/min"}, {"_bpm", "/min"},
	{"_kg", "kg"}, {"_cm", "cm"}, {"_m", "m"}, {"_s", "s"},
}

var snakeCase = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

func TestTables(t *testing.T) {
	names := make(map[string]bool)
	rows := make(map[reflect.Type]string)
	for _, d := range Tables() {
		if !snakeCase.MatchString(d.Name) || names[d.Name] {
			t.Errorf("table %q: its name is not snake_case or is there twice", d.Name)
		}
		names[d.Name] = true
		if d.About == "" {
			t.Errorf("table %s: nothing says what it holds", d.Name)
		}
		row := reflect.TypeOf(d.Row)
		if row == nil || row.Kind() != reflect.Struct {
			t.Fatalf("table %s: its row is %v, not a struct", d.Name, row)
		}
		if other, ok := rows[row]; ok {
			t.Errorf("tables %s and %s share %s", d.Name, other, row)
		}
		rows[row] = d.Name
		columns := checkFields(t, d.Name, row)
		if len(d.Keys) == 0 {
			t.Errorf("table %s: no keys", d.Name)
		}
		for _, key := range d.Keys {
			if nullable, ok := columns[key]; !ok || nullable {
				t.Errorf("table %s: the key %q is no column, or can be null", d.Name, key)
			}
		}
	}
}

// checkFields gives the columns of a row struct and whether they can be null.
func checkFields(t *testing.T, table string, row reflect.Type) map[string]bool {
	t.Helper()
	columns := make(map[string]bool)
	for i := range row.NumField() {
		field := row.Field(i)
		where := table + "." + field.Name
		options := strings.Split(field.Tag.Get("parquet"), ",")
		name := options[0]
		options = options[1:]
		if !field.IsExported() || field.Anonymous {
			t.Errorf("%s: not exported, or embedded", where)
		}
		if !snakeCase.MatchString(name) {
			t.Errorf("%s: the column %q is not snake_case", where, name)
		}
		if _, ok := columns[name]; ok {
			t.Errorf("%s: the column %q is there twice", where, name)
		}
		about := field.Tag.Get("about")
		if about == "" || strings.TrimSpace(about) != about || strings.HasSuffix(about, ".") {
			t.Errorf("%s: the about tag %q is empty, padded or ends in a full stop", where, about)
		}
		kind := field.Type
		nullable := kind.Kind() == reflect.Pointer
		if nullable {
			kind = kind.Elem()
		}
		columns[name] = nullable
		allowed := []reflect.Type{reflect.TypeFor[string](), reflect.TypeFor[bool](), reflect.TypeFor[int32](), reflect.TypeFor[int64](), reflect.TypeFor[float64]()}
		if !slices.Contains(allowed, kind) {
			t.Errorf("%s: type %s", where, field.Type)
		}
		if nullable != slices.Contains(options, "optional") {
			t.Errorf("%s: a pointer and the option optional go together (%s, %v)", where, field.Type, options)
		}
		for _, option := range options {
			if !slices.Contains([]string{"optional", "dict", "delta", "timestamp(millisecond)"}, option) {
				t.Errorf("%s: option %q", where, option)
			}
		}
		checkUnit(t, table, name, field.Tag, kind, slices.Contains(options, "timestamp(millisecond)"))
	}
	return columns
}

func checkUnit(t *testing.T, table, name string, tag reflect.StructTag, kind reflect.Type, timestamp bool) {
	t.Helper()
	unit, has := tag.Lookup("unit")
	numeric := kind.Kind() != reflect.String && kind.Kind() != reflect.Bool && !timestamp
	_, excused := bare[name]
	if !excused {
		_, excused = bare[table+"."+name]
	}
	switch {
	case has && (unit == "" || strings.TrimSpace(unit) != unit):
		t.Errorf("%s.%s: an empty or padded unit", table, name)
	case has && !numeric:
		t.Errorf("%s.%s: a unit %q on what is no amount", table, name, unit)
	case !has && numeric && !excused:
		t.Errorf("%s.%s: a number without a unit; give it one, or the reason in this test", table, name)
	}
	if !numeric {
		return
	}
	for _, e := range endings {
		if strings.HasSuffix(name, e.ending) {
			if unit != e.unit {
				t.Errorf("%s.%s: unit %q, and the name promises %q", table, name, unit, e.unit)
			}
			break
		}
	}
}

// TestBareUsed keeps the list of excuses from outliving its columns.
func TestBareUsed(t *testing.T) {
	used := make(map[string]bool)
	for _, d := range Tables() {
		row := reflect.TypeOf(d.Row)
		for i := range row.NumField() {
			name, _, _ := strings.Cut(row.Field(i).Tag.Get("parquet"), ",")
			if _, has := row.Field(i).Tag.Lookup("unit"); !has {
				used[name], used[d.Name+"."+name] = true, true
			}
		}
	}
	for name, reason := range bare {
		if !used[name] || reason == "" {
			t.Errorf("%q (%s): no column without a unit has this name", name, reason)
		}
	}
}
