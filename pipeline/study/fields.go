package study

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// study reads the whole file.
func (d *decoder) study(node *yaml.Node, s *Study) {
	d.mapping(node, "", []field{
		{"study", d.text(&s.Name)},
		{"seed", d.seed(&s.Seed)},
		{"timezone", d.zone(func(z *time.Location) { s.TimeZone = z })},
		{"inputs", d.sequence(func(_ int, node *yaml.Node, key string) { s.Inputs = append(s.Inputs, d.input(node, key)) })},
		{"roster", d.text(&s.Roster)},
		{"assign", d.text(&s.Assign)},
		{"notes", d.text(&s.Notes)},
		{"privacy", func(node *yaml.Node, key string) { d.privacy(node, key, &s.Privacy) }},
		{"screen", func(node *yaml.Node, key string) { d.screen(node, key, s) }},
		{"cost", func(node *yaml.Node, key string) { d.cost(node, key, &s.Cost) }},
		{"analysis", func(node *yaml.Node, key string) { d.analysis(node, key, &s.Analysis) }},
		{"changes", d.sequence(func(_ int, node *yaml.Node, key string) { s.Changes = append(s.Changes, d.change(node, key)) })},
		{"output", d.text(&s.Output)},
		{"frozen", func(node *yaml.Node, key string) { d.frozen(node, key, &s.Frozen) }},
	})
}

func (d *decoder) input(node *yaml.Node, key string) Input {
	in := Input{StrokeCount: UnknownBasis}
	d.mapping(node, key, []field{
		{"path", d.text(&in.Pattern)},
		{"kind", d.oneOf(func(w string) { in.Kind = InputKind(w) }, string(Activity), string(Sheet), string(HeartRate))},
		{"stroke_count", d.oneOf(func(w string) { in.StrokeCount = CountBasis(w) }, string(Arms), string(Cycles), string(UnknownBasis))},
		{"timezone", d.zone(func(z *time.Location) { in.TimeZone = z })},
		{"pool", d.pool(&in.PoolM)},
		{"hr_source", d.oneOf(func(w string) { in.HRSource = w }, "strap", "optical", "palpated")},
		{"strokes", d.oneOf(func(w string) { in.Strokes = w }, "total", "per-length")},
		{"hr_count", d.oneOf(func(w string) { in.HRCount, _ = time.ParseDuration(w) }, "6s", "10s", "15s", "20s", "30s")},
		{"hr_delay", d.duration(&in.HRDelay, 0, 10*time.Minute)},
		{"dates", d.oneOf(func(w string) { in.Dates = DateOrder(w) }, string(DayFirst), string(MonthFirst))},
		{"columns", func(node *yaml.Node, key string) { in.Columns = d.columns(node, key) }},
	})
	return in
}

func (d *decoder) pool(into *float64) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		metres, err := ParsePool(value)
		if err != nil {
			d.fail(node, key, "%s: %v", shown(value), err)
			return
		}
		*into = metres
	}
}

// columns reads our column names and the headers that stand for them; whether
// the names are known is checked when the input's kind is.
func (d *decoder) columns(node *yaml.Node, key string) map[string]string {
	if node.Kind != yaml.MappingNode {
		d.fail(node, key, "must hold column names, such as {time: Split}")
		return nil
	}
	columns := map[string]string{}
	d.pairs(node, key, func(name string, _, value *yaml.Node, full string) {
		var header string
		d.text(&header)(follow(value), full)
		columns[name] = header
	})
	return columns
}

func (d *decoder) privacy(node *yaml.Node, key string, p *Privacy) {
	d.mapping(node, key, []field{
		{"identify", d.oneOf(func(w string) { p.AsGiven = w == "as-given" }, "pseudonym", "as-given")},
		{"key_file", d.text(&p.KeyFile)},
		{"smallest_group", d.whole(&p.SmallestGroup, 1, 1_000_000)},
		{"quasi_identifiers", func(node *yaml.Node, key string) { d.quasiIdentifiers(node, key, p) }},
	})
}

func (d *decoder) frozen(node *yaml.Node, key string, into *string) {
	value, ok := d.scalar(node, key)
	if !ok {
		return
	}
	if sum, err := hex.DecodeString(value); err != nil || len(sum) != sha256.Size || strings.ToLower(value) != value {
		d.fail(node, key, "must be the hash that \"lengthwise freeze\" wrote: %d hexadecimal digits", 2*sha256.Size)
		return
	}
	*into = value
}

func (d *decoder) quasiIdentifiers(node *yaml.Node, key string, p *Privacy) {
	p.QuasiIdentifiers = []string{}
	d.sequence(func(_ int, node *yaml.Node, key string) {
		var name string
		d.oneOf(func(w string) { name = w }, "sex", "age_band", "squad")(node, key)
		switch {
		case name == "":
		case slices.Contains(p.QuasiIdentifiers, name):
			d.fail(node, key, "%s is already in the list", shown(name))
		default:
			p.QuasiIdentifiers = append(p.QuasiIdentifiers, name)
		}
	})(node, key)
}

func (d *decoder) screen(node *yaml.Node, key string, s *Study) {
	c := &s.Screen
	d.mapping(node, key, []field{
		{"off", d.sequence(func(_ int, node *yaml.Node, key string) {
			rule, ok := d.scalar(node, key)
			if !ok {
				return
			}
			if rule == "no-swimmer" || rule == "no-consent" || rule == "forgotten" {
				d.fail(node, key, "%s cannot be switched off", rule)
				return
			}
			if c.Off[rule] {
				d.fail(node, key, "%s is already in the list", shown(rule))
			}
			c.Off[rule] = true
			if s.offLines == nil {
				s.offLines = map[string]int{}
			}
			s.offLines[rule] = node.Line
		})},
		{"slowest_mps", d.number(&c.SlowestMPS, 0.01, 5)},
		{"fastest_mps", d.number(&c.FastestMPS, 0.01, 5)},
		{"lowest_rate_spm", d.number(&c.LowestRateSPM, 1, 300)},
		{"highest_rate_spm", d.number(&c.HighestRateSPM, 1, 300)},
		{"lowest_hr_bpm", d.number(&c.LowestHRBPM, 1, 254)},
		{"highest_hr_bpm", d.number(&c.HighestHRBPM, 1, 254)},
		{"missed_turn_low", d.number(&c.MissedTurnLow, 1.2, 5)},
		{"missed_turn_high", d.number(&c.MissedTurnHigh, 1.2, 5)},
		{"missed_turn_strokes_low", d.number(&c.MissedTurnStrokesLow, 1, 5)},
		{"false_turn_share", d.number(&c.FalseTurnShare, 0.5, 1)},
		{"false_turn_tolerance", d.number(&c.FalseTurnTolerance, 0.01, 0.5)},
		{"early_turn_shift", d.number(&c.EarlyTurnShift, 0.02, 0.6)},
		{"early_turn_tolerance", d.number(&c.EarlyTurnTolerance, 0.01, 0.5)},
		{"stop_inside_low", d.number(&c.StopInsideLow, 1.05, 5)},
		{"count_low", d.number(&c.CountLow, 0.1, 1)},
		{"count_high", d.number(&c.CountHigh, 1, 10)},
		{"kick_rate_spm", d.number(&c.KickRateSPM, 1, 60)},
		{"lock_seconds", d.number(&c.LockSeconds, 10, 3600)},
		{"stroke_index_low", d.number(&c.StrokeIndexLow, 0.01, 20)},
		{"stroke_index_high", d.number(&c.StrokeIndexHigh, 0.01, 100)},
		{"step_bpm", d.number(&c.StepBPM, 3, 150)},
		{"usual_lengths", d.whole(&c.UsualLengths, 1, 1000)},
	})
}

func (d *decoder) cost(node *yaml.Node, key string, c *Cost) {
	d.mapping(node, key, []field{
		{"measure", d.oneOf(func(w string) { c.Measure = w }, "bpm", "hr-reserve", "net-beats", "lab", "rpe")},
		{"steady", d.oneOf(func(w string) { c.Steady = w }, SteadyAuto, SteadyWindow, SteadyKinetics)},
		{"steady_after", d.duration(&c.SteadyAfter, 0, time.Hour)},
		{"window", d.duration(&c.Window, time.Second, time.Hour)},
		{"shortest_bout", d.duration(&c.ShortestBout, 0, time.Hour)},
		{"hr_source", d.oneOf(func(w string) { c.HRSource = w }, AnySource, "strap", "optical", "palpated")},
		{"vo2_rest", d.number(&c.VO2Rest, 1, 15)},
		{"lactate_equivalent", d.number(&c.LactateEquivalent, 0, 10)},
	})
}

func (d *decoder) analysis(node *yaml.Node, key string, a *Analysis) {
	d.mapping(node, key, []field{
		{"strokes", func(node *yaml.Node, key string) {
			a.Strokes = nil
			d.sequence(func(_ int, node *yaml.Node, key string) {
				d.oneOf(func(w string) { a.Strokes = append(a.Strokes, w) },
					"freestyle", "backstroke", "breaststroke", "butterfly")(node, key)
			})(node, key)
		}},
		{"reference_pace", d.pace(&a.ReferencePace)},
		{"smallest_effect", d.number(&a.SmallestEffect, 0.001, 1000)},
		{"min_sessions", d.whole(&a.MinSessions, 2, 1000)},
		{"min_bouts", d.whole(&a.MinBouts, 2, 100_000)},
		{"min_rate_spread", d.number(&a.MinRateSpread, 0, 1)},
		{"count_error_length", d.number(&a.CountErrorLength, 0, 0.3)},
		{"count_error_bout", d.number(&a.CountErrorBout, 0, 0.3)},
		{"matched_pace", d.number(&a.MatchedPace, 0.0001, 0.5)},
		{"resamples", d.whole(&a.Resamples, 100, 1_000_000)},
		{"permutations", d.whole(&a.Permutations, 20, 1_000_000)},
		{"sensitivity", d.oneOf(func(w string) { a.Sensitivity = w == "true" }, "true", "false")},
		{"set_beforehand", func(node *yaml.Node, key string) { a.SetBeforehand = d.setBeforehand(node, key) }},
	})
}

// pace reads auto, m:ss or seconds, for 100 m.
func (d *decoder) pace(into *float64) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		if value == "auto" {
			*into = 0
			return
		}
		seconds, ok := paceSeconds(value)
		if !ok {
			d.fail(node, key, "%s is not a pace; write auto, or the time for 100 m as 1:30 or 90", shown(value))
			return
		}
		*into = seconds
	}
}

// paceSeconds reads m:ss(.s) or seconds, above zero.
func paceSeconds(value string) (float64, bool) {
	minutes, rest, timed := strings.Cut(value, ":")
	total := 0.0
	if timed {
		m, err := strconv.ParseUint(minutes, 10, 16)
		if err != nil || len(rest) < 2 {
			return 0, false
		}
		total = 60 * float64(m)
	} else {
		rest = value
	}
	if strings.Trim(rest, "0123456789.") != "" {
		return 0, false
	}
	s, err := strconv.ParseFloat(rest, 64)
	if err != nil || (timed && s >= 60) || total+s <= 0 {
		return 0, false
	}
	return total + s, true
}
