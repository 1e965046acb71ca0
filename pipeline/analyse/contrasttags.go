package analyse

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strings"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
)

// The tags of a contrast that bouts carry by themselves; others are keys of
// the squad's own notes.
const (
	TagInstruction = "instruction"
	TagKick        = "kick"
	TagEquipment   = "equipment"
	TagBreathing   = "breathing"
)

// NotStated is the level of bouts of which nothing was noted.
const NotStated = "not stated"

// A level counts from so many bouts on, and a tag up to so many levels: with
// more it is a number or a name, and no setting (our own choices).
const (
	fewestLevelBouts = 3
	mostLevels       = 8
)

// tag is what a contrast is about.
type tag struct {
	name string
	of   func(*derive.Bout) string // "" where nothing was noted
	// references lists the levels that may stand for the reference, the best
	// first; without any of them the first by name does, so that all swimmers
	// of a squad get the same one.
	references []string
}

// tagsOf lists the tags that the bouts carry, in the order of the tables.
func tagsOf(bouts []*derive.Bout) []tag {
	usual := []string{"usual", "", "none", "normal", "baseline"}
	tags := []tag{
		{TagInstruction, instructionOf, []string{"usual", ""}},
		{TagKick, kickOf, []string{"usual", "", "light", "full"}},
		{TagEquipment, equipmentOf, usual},
	}
	keys := map[string]bool{}
	for _, b := range bouts {
		for _, l := range b.Labels {
			keys[l.Key] = true
		}
	}
	var own []string
	for key := range keys {
		if isLevel(key) && !aboutBreath(key) {
			own = append(own, key)
		}
	}
	slices.Sort(own)
	for _, key := range own {
		tags = append(tags, tag{key, func(b *derive.Bout) string { return b.Label(key) }, usual})
	}
	return tags
}

func instructionOf(b *derive.Bout) string { return b.Tags.Instruction }

// isLevel reports whether a text is short and plain enough for a setting.
func isLevel(text string) bool { return plainLevel.MatchString(text) }

var plainLevel = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{M}\p{N} _.,+%/-]{0,29}$`)

// aboutBreath reports whether a text is about breath control. Heart rate is no
// valid cost of that, so nothing is made of such notes: what may be shown of
// breathing is shown by breathing.go alone.
func aboutBreath(text string) bool {
	text = strings.ToLower(text)
	for _, word := range []string{"breath", "hypox", "apnea", "apnoea"} {
		if strings.Contains(text, word) {
			return true
		}
	}
	return false
}

// setBeforehand reports whether a tag's value was planned, not the swimmer's
// own choice: an instruction always, others as the study file says.
func setBeforehand(name string, s *study.Study) bool {
	return name == TagInstruction || slices.Contains(s.Analysis.SetBeforehand, name)
}

// levels is the bouts of the sessions in which a tag differs, with the levels
// that count.
type levels struct {
	tag       tag
	bouts     []*derive.Bout
	level     []string       // of each bout
	names     []string       // other than the reference, by name
	reference string         // "" for not stated
	dropped   map[string]int // of the stroke's usable bouts
}

// newLevels picks the sessions in which the tag differs. ok is false where it
// differs in none.
func newLevels(bouts []*derive.Bout, t tag) (levels, bool) {
	l := levels{tag: t, dropped: map[string]int{}}
	stated := map[string]bool{} // sessions of which something was noted
	for _, b := range bouts {
		if t.of(b) != "" {
			stated[b.Session] = true
		}
	}
	var kept []*derive.Bout
	count, most := map[string]int{}, 0
	for _, b := range bouts {
		v := t.of(b)
		switch {
		case !stated[b.Session]:
			l.dropped["in a session of which it was not noted"]++
		case t.name == TagInstruction && v == "" && !math.IsNaN(b.Tags.RateTargetSPM):
			l.dropped["rate set instead of an instruction"]++
		case v != "" && t.name != TagBreathing && (!isLevel(v) || aboutBreath(v)):
			l.dropped["no plain setting"]++
		default:
			kept = append(kept, b)
			count[v]++
			if v != "" {
				most = max(most, count[v])
			}
		}
	}
	good := map[string]bool{}
	for v, n := range count {
		// Bouts of which nothing was noted are a level of their own only where
		// they are many: else they are warm-ups and the like.
		good[v] = n >= fewestLevelBouts && (v != "" || 2*n >= most)
	}
	bySession := map[string]map[string]bool{}
	for _, b := range kept {
		if v := t.of(b); good[v] {
			if bySession[b.Session] == nil {
				bySession[b.Session] = map[string]bool{}
			}
			bySession[b.Session][v] = true
		}
	}
	present := map[string]int{}
	for _, b := range kept {
		v := t.of(b)
		switch {
		case !good[v]:
			l.dropped["of another level, or not stated"]++
		case len(bySession[b.Session]) < 2:
			l.dropped["in a session of one level"]++
		default:
			l.bouts, l.level = append(l.bouts, b), append(l.level, v)
			present[v]++
		}
	}
	if len(present) < 2 || len(present) > mostLevels {
		return l, false
	}
	l.reference = l.chooseReference(present)
	for v := range present {
		if v != l.reference {
			l.names = append(l.names, v)
		}
	}
	slices.Sort(l.names)
	return l, true
}

func (l *levels) chooseReference(present map[string]int) string {
	for _, v := range l.tag.references {
		if present[v] > 0 {
			return v
		}
	}
	return slices.MinFunc(keysOf(present), cmp.Compare[string])
}

func keysOf(m map[string]int) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	return keys
}

// pairSessions counts the sessions that hold both a level and the reference.
func (l *levels) pairSessions(level string) int {
	has := map[string]int{}
	for i, b := range l.bouts {
		switch l.level[i] {
		case level:
			has[b.Session] |= 1
		case l.reference:
			has[b.Session] |= 2
		}
	}
	n := 0
	for _, both := range has {
		if both == 3 {
			n++
		}
	}
	return n
}

// count is the bouts at a level.
func (l *levels) count(level string) int {
	n := 0
	for _, v := range l.level {
		if v == level {
			n++
		}
	}
	return n
}
