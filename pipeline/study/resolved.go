package study

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strconv"

	"go.yaml.in/yaml/v3"
)

// Resolved writes every setting with its value, defaults included, in a fixed
// order as YAML. It reads back as the same study and holds nothing of the
// machine. It names the swimmers of changes as the study file does, so it is
// for the squad's own eyes; ResolvedAs is for what goes out.
func (s *Study) Resolved() []byte { return s.ResolvedAs(func(name string) string { return name }) }

// ResolvedAs is Resolved with each swimmer of a change replaced by what call
// gives for the name.
func (s *Study) ResolvedAs(call func(name string) string) []byte {
	root := mappingOf(
		"study", textNode(s.Name),
		"seed", plainNode(strconv.FormatUint(s.Seed, 10)),
		"timezone", textNode(s.TimeZone.String()),
		"inputs", listOf(s.Inputs, inputNode),
	)
	for _, file := range []struct{ key, path string }{{"roster", s.Roster}, {"assign", s.Assign}, {"notes", s.Notes}} {
		if file.path != "" {
			add(root, file.key, textNode(file.path))
		}
	}
	add(root, "privacy", privacyNode(s.Privacy))
	s.addMethod(root)
	if len(s.Changes) > 0 {
		add(root, "changes", listOf(s.Changes, func(c Change) *yaml.Node { return changeNode(c, call) }))
	}
	add(root, "output", textNode(s.Output))
	if s.Frozen != "" {
		add(root, "frozen", textNode(s.Frozen))
	}
	return encoded(root)
}

// ReleasedAs is what a released set says of the settings: how the study was
// screened, measured and analysed, without inputs, people, dates and places.
func (s *Study) ReleasedAs() []byte {
	root := mappingOf()
	s.addMethod(root)
	return encoded(root)
}

func (s *Study) addMethod(root *yaml.Node) {
	add(root, "screen", screenNode(s.Screen))
	add(root, "cost", mappingOf(
		"measure", textNode(s.Cost.Measure),
		"steady", textNode(s.Cost.Steady),
		"steady_after", textNode(s.Cost.SteadyAfter.String()),
		"window", textNode(s.Cost.Window.String()),
		"shortest_bout", textNode(s.Cost.ShortestBout.String()),
		"hr_source", textNode(s.Cost.HRSource),
		"vo2_rest", numberNode(s.Cost.VO2Rest),
		"lactate_equivalent", numberNode(s.Cost.LactateEquivalent),
	))
	add(root, "analysis", analysisNode(s.Analysis))
}

func encoded(root *yaml.Node) []byte {
	var out bytes.Buffer
	to := yaml.NewEncoder(&out)
	to.SetIndent(2)
	// Nodes made here of plain text into memory have no way to fail.
	if err := to.Encode(root); err != nil {
		panic(fmt.Sprintf("study: writing resolved settings: %v", err))
	}
	return out.Bytes()
}

// Hash is the hex SHA-256 of Resolved.
func (s *Study) Hash() string {
	sum := sha256.Sum256(s.Resolved())
	return hex.EncodeToString(sum[:])
}

func inputNode(in Input) *yaml.Node {
	node := mappingOf(
		"path", textNode(in.Pattern),
		"kind", textNode(string(in.Kind)),
		"stroke_count", textNode(string(in.StrokeCount)),
	)
	if in.TimeZone != nil {
		add(node, "timezone", textNode(in.TimeZone.String()))
	}
	if in.PoolM != 0 {
		add(node, "pool", textNode(PoolText(in.PoolM)))
	}
	if in.HRSource != "" {
		add(node, "hr_source", textNode(in.HRSource))
	}
	if in.Strokes != "" {
		add(node, "strokes", textNode(in.Strokes))
	}
	if in.HRCount != 0 {
		add(node, "hr_count", textNode(in.HRCount.String()))
	}
	if in.HRDelay != 0 {
		add(node, "hr_delay", textNode(in.HRDelay.String()))
	}
	if in.Dates != AnyOrder {
		add(node, "dates", textNode(string(in.Dates)))
	}
	if len(in.Columns) > 0 {
		names := make([]string, 0, len(in.Columns))
		for name := range in.Columns {
			names = append(names, name)
		}
		sort.Strings(names)
		columns := mappingOf()
		for _, name := range names {
			add(columns, name, textNode(in.Columns[name]))
		}
		add(node, "columns", columns)
	}
	return node
}

func privacyNode(p Privacy) *yaml.Node {
	identify := "pseudonym"
	if p.AsGiven {
		identify = "as-given"
	}
	return mappingOf(
		"identify", textNode(identify),
		"key_file", textNode(p.KeyFile),
		"smallest_group", plainNode(strconv.Itoa(p.SmallestGroup)),
		"quasi_identifiers", listOf(p.QuasiIdentifiers, textNode),
	)
}

func screenNode(c Screen) *yaml.Node {
	off := make([]string, 0, len(c.Off))
	for rule, is := range c.Off {
		if is {
			off = append(off, rule)
		}
	}
	sort.Strings(off)
	return mappingOf(
		"off", listOf(off, textNode),
		"slowest_mps", numberNode(c.SlowestMPS),
		"fastest_mps", numberNode(c.FastestMPS),
		"lowest_rate_spm", numberNode(c.LowestRateSPM),
		"highest_rate_spm", numberNode(c.HighestRateSPM),
		"lowest_hr_bpm", numberNode(c.LowestHRBPM),
		"highest_hr_bpm", numberNode(c.HighestHRBPM),
		"missed_turn_low", numberNode(c.MissedTurnLow),
		"missed_turn_high", numberNode(c.MissedTurnHigh),
		"missed_turn_strokes_low", numberNode(c.MissedTurnStrokesLow),
		"false_turn_share", numberNode(c.FalseTurnShare),
		"false_turn_tolerance", numberNode(c.FalseTurnTolerance),
		"early_turn_shift", numberNode(c.EarlyTurnShift),
		"early_turn_tolerance", numberNode(c.EarlyTurnTolerance),
		"stop_inside_low", numberNode(c.StopInsideLow),
		"count_low", numberNode(c.CountLow),
		"count_high", numberNode(c.CountHigh),
		"kick_rate_spm", numberNode(c.KickRateSPM),
		"lock_seconds", numberNode(c.LockSeconds),
		"stroke_index_low", numberNode(c.StrokeIndexLow),
		"stroke_index_high", numberNode(c.StrokeIndexHigh),
		"step_bpm", numberNode(c.StepBPM),
		"usual_lengths", plainNode(strconv.Itoa(c.UsualLengths)),
	)
}

func analysisNode(a Analysis) *yaml.Node {
	pace := textNode("auto")
	if a.ReferencePace != 0 {
		pace = numberNode(a.ReferencePace)
	}
	return mappingOf(
		"strokes", listOf(a.Strokes, textNode),
		"reference_pace", pace,
		"smallest_effect", numberNode(a.SmallestEffect),
		"min_sessions", plainNode(strconv.Itoa(a.MinSessions)),
		"min_bouts", plainNode(strconv.Itoa(a.MinBouts)),
		"min_rate_spread", numberNode(a.MinRateSpread),
		"count_error_length", numberNode(a.CountErrorLength),
		"count_error_bout", numberNode(a.CountErrorBout),
		"matched_pace", numberNode(a.MatchedPace),
		"resamples", plainNode(strconv.Itoa(a.Resamples)),
		"permutations", plainNode(strconv.Itoa(a.Permutations)),
		"sensitivity", plainNode(strconv.FormatBool(a.Sensitivity)),
		"set_beforehand", listOf(a.SetBeforehand, textNode),
	)
}

// mappingOf makes a mapping of key, value, key, value ...
func mappingOf(pairs ...any) *yaml.Node {
	node := &yaml.Node{Kind: yaml.MappingNode}
	for i := 0; i+1 < len(pairs); i += 2 {
		add(node, pairs[i].(string), pairs[i+1].(*yaml.Node))
	}
	return node
}

// add appends a key to a mapping.
func add(node *yaml.Node, key string, value *yaml.Node) {
	node.Content = append(node.Content, textNode(key), value)
}

func listOf[T any](items []T, each func(T) *yaml.Node) *yaml.Node {
	node := &yaml.Node{Kind: yaml.SequenceNode}
	if len(items) == 0 {
		node.Style = yaml.FlowStyle
	}
	for _, item := range items {
		node.Content = append(node.Content, each(item))
	}
	return node
}

// textNode is a string, quoted by the encoder where it would read as something
// else.
func textNode(value string) *yaml.Node {
	node := &yaml.Node{}
	node.SetString(value)
	return node
}

// plainNode is a value written as it stands.
func plainNode(value string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: value} }

func numberNode(x float64) *yaml.Node { return plainNode(formatFloat(x)) }
