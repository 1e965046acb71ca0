package run

import (
	_ "embed"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// A stage makes something of files or swimmers that is kept for the next run.
type stage string

// The stages. atOnceStage is the answerStage of swimmers who need not wait for the
// squad's time constant.
const (
	readStage    stage = "read"
	measureStage stage = "measure"
	atOnceStage  stage = "at-once"
	answerStage  stage = "answer"
)

// stageSources tells stages apart by the source that they are made of: a line of name
// and fingerprint each. TestStageVersions fails when a source is another one, and
// writes the list with -update.
//
//go:embed stages.txt
var stageSources string

// versionOf is the version of a stage: what a stage of another version made counts
// for nothing. It holds the platform too, on which the last digits may depend.
func versionOf(s stage) string {
	for line := range strings.Lines(stageSources) {
		if name, sum, ok := strings.Cut(strings.TrimSpace(line), " "); ok && name == string(s) {
			return sum + " " + runtime.Version() + " " + runtime.GOOS + "/" + runtime.GOARCH + " " + shapeOf(s)
		}
	}
	return "unknown " + string(s)
}

// shapeOf is the shape of what a stage writes down.
func shapeOf(s stage) string {
	switch s {
	case readStage:
		return wire.Shape[reading]()
	case measureStage:
		return wire.Shape[measured]()
	}
	return wire.Shape[answered]()
}

// readSettings are the settings by which an input's files are read, as a text that
// differs when they do.
func readSettings(s *study.Study, in study.Input) string {
	zone := ""
	if in.TimeZone != nil {
		zone = in.TimeZone.String()
	}
	in.TimeZone = nil
	return fmt.Sprintf("%#v %q %q %t", in, zone, zoneName(s), s.Privacy.AsGiven)
}

func zoneName(s *study.Study) string {
	if s.TimeZone == nil {
		return ""
	}
	return s.TimeZone.String()
}

// zonesOf are the time zones that a study names.
func zonesOf(s *study.Study) []*time.Location {
	zones := []*time.Location{time.UTC}
	for _, z := range append([]*time.Location{s.TimeZone}, inputZones(s)...) {
		if z != nil && !slices.Contains(zones, z) {
			zones = append(zones, z)
		}
	}
	return zones
}

func inputZones(s *study.Study) (zones []*time.Location) {
	for _, in := range s.Inputs {
		zones = append(zones, in.TimeZone)
	}
	return zones
}

// measureSettings are the settings that the measure stage reads.
func measureSettings(s *study.Study) string {
	return fmt.Sprintf("%#v %#v %q", s.Screen, s.Cost, zoneName(s))
}

// answerSettings are the settings that the answer stage may read: all but those that say
// where files are.
func answerSettings(s *study.Study) string {
	asked := *s
	asked.Folder, asked.File, asked.Name, asked.Inputs, asked.Output = "", "", "", nil, ""
	asked.Roster, asked.Assign, asked.Notes, asked.Privacy = "", "", "", study.Privacy{}
	return string(asked.Resolved())
}

// readKey is what a reading follows from, beside the list of who is who.
func readKey(s *study.Study, found study.Found, sum, who string) cache.Key {
	return cache.KeyOf("read", versionOf(readStage), readSettings(s, s.Inputs[found.Input]), found.Rel, found.Swimmer, sum, who)
}

// whoIsWho is a fingerprint of all that says whose a recording is.
func whoIsWho(members []identity.Member, assignments []identity.Assignment, key []byte) string {
	parts := []string{string(key), fmt.Sprint(members == nil, assignments == nil)}
	for _, m := range members {
		parts = append(parts, fmt.Sprintf("%q %q %q %q %d", m.Name, m.Aliases, m.Squad, m.Devices, m.Consent))
	}
	for _, a := range assignments {
		parts = append(parts, fmt.Sprintf("%#v", a))
	}
	sum := cache.KeyOf(parts...)
	return string(sum[:])
}
