package read

import (
	"math"
	"strings"

	"lengthwise/pipeline/study"
)

// parsePool reads the pool: the row's, else the input's.
func (s *sheetPart) parsePool(r *sheetRow, l *Length, refuse refusal) {
	cell := r.cell("pool")
	if cell == "" {
		if l.PoolM = s.src.Input.PoolM; l.PoolM == 0 {
			l.PoolM = math.NaN()
			refuse(RuleMissingCell, "pool", "the cell is empty")
		}
		return
	}
	metres, err := s.memory.pool(cell, r.says("pool").pool)
	if err != nil {
		refuse(RuleUnreadable, "pool", "%v", err)
		return
	}
	l.PoolM = metres
}

// says is what the header, or the label above it, says of a column.
func (r *sheetRow) says(column string) heading {
	if says, ok := r.view.says[column]; ok {
		return says
	}
	return r.section.constants[column].says
}

// sheetPool reads a pool: 25m, 25 metres, 25 m indoor, and the trade's SCM, LCM
// and SCY (short course metres, long course metres, short course yards). unit
// is that of the header where the cell has none.
func sheetPool(cell, unit string) (metres float64, err error) {
	switch csvWord(cell) {
	case "scm":
		cell = "25m"
	case "lcm":
		cell = "50m"
	case "scy":
		cell = "25y"
	}
	if metres, err = study.ParsePool(cell); err == nil {
		return metres, nil
	}
	if strings.Trim(cell, "0123456789.,") == "" && unit != "" {
		return study.ParsePool(cell + unit)
	}
	fields := strings.Fields(strings.ReplaceAll(cell, "-", " "))
	for n := min(2, len(fields)); n > 0; n-- {
		if metres, again := study.ParsePool(strings.Join(fields[:n], "")); again == nil {
			return metres, nil
		}
	}
	return 0, err
}

// parseDistance reads length and distance_m and how many pool lengths the row
// covers.
func (s *sheetPart) parseDistance(r *sheetRow, l *Length, refuse refusal) {
	length, distance := r.cell("length"), r.cell("distance_m")
	says := r.says("distance_m")
	metres, isNumber := s.metres(distance, says.yards || says.inPool && wholeYards(l.PoolM))
	if length != "" {
		number, ok := s.table.csvWhole(length)
		if !ok || number < 1 {
			refuse(RuleUnreadable, "length", "%s is no number of a length from 1", csvShown(length))
			return
		}
		r.number = number
		if isNumber && !math.IsNaN(l.PoolM) && math.Abs(metres-l.PoolM) > distanceSlack(metres) && !r.excluded && !s.distanceNoted {
			s.distanceNoted = true
			s.note(*r, RuleDistance, "distance_m", "a row of one length states another distance than the pool's; here and below it is not used")
		}
		return
	}
	switch {
	case distance == "":
		refuse(RuleMissingCell, "distance_m", "neither length nor distance_m is given")
	case !isNumber || metres <= 0:
		refuse(RuleUnreadable, "distance_m", "%s is no distance in metres", csvShown(distance))
	case !math.IsNaN(l.PoolM):
		lengths, whole := poolLengths(metres, l.PoolM)
		if inYards := metres * study.MetresPerYard; !whole && !says.metres && wholeYards(l.PoolM) && isDigits(distance) {
			if lengths, whole = poolLengths(inYards, l.PoolM); whole {
				s.noteRun(*r, RuleDistanceUnit, "the pool is in yards and the distance no whole number of its lengths in metres: it is read in yards")
			}
		}
		if !whole {
			refuse(RuleNotWhole, "distance_m", "%s m is no whole number of lengths of %.2f m; distances are in metres, in a yards pool too, unless header or cell say yd",
				csvShown(distance), l.PoolM)
			return
		}
		l.Covers = int(lengths)
	}
}

// poolLengths tells how many lengths of a pool a distance is, and whether it is
// a whole number of them.
func poolLengths(metres, poolM float64) (lengths float64, whole bool) {
	lengths = math.Round(metres / poolM)
	return lengths, lengths >= 1 && lengths <= mostLengths && math.Abs(metres-lengths*poolM) <= distanceSlack(metres)
}

// wholeYards reports whether a pool is a whole number of yards long.
func wholeYards(poolM float64) bool {
	yards := poolM / study.MetresPerYard
	return math.Abs(yards-math.Round(yards)) < 1e-6
}

// metres reads a distance: 200, 200 m, 1 500 m, 1.500 m where no swim could
// be of 1.5 m, 100 yd.
func (s *sheetFacts) metres(cell string, yards bool) (float64, bool) {
	if cell == "" {
		return 0, false
	}
	text := strings.ToLower(strings.TrimSpace(cell))
	for _, unit := range []struct {
		word  string
		yards bool
	}{{"metres", false}, {"meters", false}, {"meter", false}, {"yards", true}, {"yds", true}, {"yd", true}, {"m", false}, {"y", true}} {
		if before, found := strings.CutSuffix(text, unit.word); found {
			text, yards = strings.TrimSpace(before), unit.yards
			break
		}
	}
	for _, blank := range []string{" ", "\u00a0", "\u202f", "\u2009", "'", "\u2019"} {
		if whole, part, found := strings.Cut(text, blank); found && isDigits(whole) && len(part) == 3 && isDigits(part) {
			text = whole + part
		}
	}
	if cut := strings.IndexAny(text, ".,"); cut == 1 || cut == 2 { // 1.500 m would be no swim
		if part := text[cut+1:]; isDigits(text[:cut]) && len(part) == 3 && isDigits(part) && part[2] == '0' {
			text = text[:cut] + part
		}
	}
	x, ok := s.table.csvNumber(text)
	if yards {
		x *= study.MetresPerYard
	}
	return x, ok
}

// mostLengths bounds the lengths of one row.
const mostLengths = 2000

// distanceSlack is how far a written distance may lie from the pool lengths it
// stands for: a quarter of a metre and a thousandth, so that 66 or 67 m of a
// pool of a third of 100 m, and 366 m for 400 yards, are taken.
func distanceSlack(metres float64) float64 { return 0.35 + 0.001*metres }
