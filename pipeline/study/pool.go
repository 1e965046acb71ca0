package study

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// MetresPerYard is exact (international yard and pound agreement, 1959).
const MetresPerYard = 0.9144

// shortestPoolM and longestPoolM bound what is taken for a pool.
const (
	shortestPoolM = 10.0
	longestPoolM  = 100.0
)

// ParsePool reads a pool length such as 25m, 50m, 25y, 33.3m or 20m and gives
// metres; a yard is 0.9144 m exactly and 33.3m (also 33.33m, 33m) means a third
// of 100 m. The unit is required: 25 alone may be either. A comma may stand for
// the decimal point.
func ParsePool(text string) (metres float64, err error) {
	t := strings.ToLower(strings.TrimSpace(text))
	cut := strings.IndexFunc(t, func(r rune) bool { return !strings.ContainsRune("0123456789.,", r) })
	if cut < 0 {
		return 0, fmt.Errorf("a pool length needs its unit: write 25m or 25y")
	}
	value, err := strconv.ParseFloat(strings.Replace(t[:cut], ",", ".", 1), 64)
	if err != nil {
		return 0, fmt.Errorf("not a pool length: write for example 25m, 50m, 25y or 33.3m")
	}
	switch strings.TrimSpace(t[cut:]) {
	case "m", "metre", "metres", "meter", "meters":
		if value >= 33 && math.Abs(value-100.0/3) < 0.34 {
			value = 100.0 / 3
		}
		metres = value
	case "y", "yd", "yds", "yard", "yards":
		metres = value * MetresPerYard
	default:
		return 0, fmt.Errorf("not a pool length: write for example 25m, 50m, 25y or 33.3m")
	}
	if !(metres >= shortestPoolM && metres <= longestPoolM) {
		return 0, fmt.Errorf("a pool length lies between %g and %g m", shortestPoolM, longestPoolM)
	}
	return metres, nil
}

// PoolText writes metres so that [ParsePool] gives them back.
func PoolText(metres float64) string {
	if metres == 100.0/3 {
		return "33.3m"
	}
	return formatFloat(metres) + "m"
}

// formatFloat is the shortest decimal that reads back as the same number.
func formatFloat(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
