package read

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lengthwise/pipeline/identity"
)

// csvNumber reads a plain decimal number; a comma may stand for the point.
// Where commas separate cells, 1,500 may be either and is refused.
func (t *csvTable) csvNumber(cell string) (float64, bool) {
	if cell == "" {
		return 0, false
	}
	if plainDecimal(cell) {
		x, err := strconv.ParseFloat(cell, 64)
		return x, err == nil && !math.IsInf(x, 0)
	}
	text := strings.Replace(cell, "\u2212", "-", 1)
	if whole, part, found := strings.Cut(text, ","); found {
		if strings.ContainsAny(part, ",.") || strings.Contains(whole, ".") || t.comma == ',' && len(part) == 3 {
			return 0, false
		}
		text = whole + "." + part
	}
	if strings.Trim(strings.TrimPrefix(strings.TrimPrefix(text, "-"), "+"), "0123456789.") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// csvWhole reads a whole number.
func (t *csvTable) csvWhole(cell string) (int, bool) {
	x, ok := t.csvNumber(cell)
	if !ok || x != math.Trunc(x) || math.Abs(x) > 1e6 {
		return 0, false
	}
	return int(x), true
}

// csvWord gives the word in the form in which choices are compared.
func csvWord(cell string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '_' {
			return '-'
		}
		return r
	}, identity.Fold(cell))
}

// csvYes reads yes or no.
func csvYes(cell string) (is, ok bool) {
	switch csvWord(cell) {
	case "yes", "y", "true", "1":
		return true, true
	case "no", "n", "false", "0":
		return false, true
	}
	return false, false
}

// csvShown quotes a cell in a detail. Anything with letters may be somebody's
// name in the wrong column and stays out; a power of ten is none.
func csvShown(cell string) string {
	if cell == "" || len(cell) > 24 || strings.Trim(cell, "0123456789.,:;+-/ %'\"\u2032\u2033\u2019eE") != "" || strings.Trim(cell[:1], "0123456789.,:;+-/ %") != "" {
		return "the text in it"
	}
	return strconv.Quote(cell)
}

// csvDetail says where in a table something was seen.
func csvDetail(row csvRow, column, format string, args ...any) string {
	where := fmt.Sprintf("line %d", row.line)
	if row.part != "" {
		where += ", " + row.part
	}
	if column != "" {
		where += ", column " + column
	}
	return where + ": " + fmt.Sprintf(format, args...)
}
