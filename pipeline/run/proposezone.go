package run

import (
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"lengthwise/pipeline/read"
)

// zones to propose from: one or more for every rule of summer time in wide use.
// Zones that agree at every recording give the same times, so that it does not
// matter which of them the study names.
func zones() []string {
	return []string{
		"Europe/Lisbon", "Europe/London", "Europe/Paris", "Europe/Athens", "Europe/Moscow", "Atlantic/Azores", "Atlantic/Reykjavik",
		"America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles", "America/Anchorage", "Pacific/Honolulu",
		"America/Halifax", "America/St_Johns", "America/Sao_Paulo", "America/Santiago", "America/Bogota", "America/Mexico_City",
		"Africa/Johannesburg", "Africa/Lagos", "Africa/Nairobi", "Africa/Cairo", "Africa/Casablanca",
		"Asia/Jerusalem", "Asia/Istanbul", "Asia/Tehran", "Asia/Dubai", "Asia/Karachi", "Asia/Kolkata", "Asia/Kathmandu", "Asia/Dhaka", "Asia/Yangon",
		"Asia/Bangkok", "Asia/Singapore", "Asia/Shanghai", "Asia/Tokyo",
		"Australia/Perth", "Australia/Darwin", "Australia/Adelaide", "Australia/Brisbane", "Australia/Sydney", "Australia/Lord_Howe",
		"Pacific/Auckland", "UTC",
	}
}

// mostClocks is how many activity files are asked for their clock: enough to
// meet both sides of a change to summer time, few enough to be quick.
const mostClocks = 60

// zone looks at the recorders' clocks and keeps the time zones that agree with
// nearly all of them. own, the machine's zone, comes first where it agrees.
func (p *Proposal) zone(folder, own string) error {
	step := max(1, len(p.Activities)/mostClocks)
	var clocks []read.Clock
	for i := 0; i < len(p.Activities); i += step {
		data, err := readFile(filepath.Join(folder, filepath.FromSlash(p.Activities[i])))
		if err != nil {
			return err
		}
		clocks = append(clocks, read.ActivityClocks(data)...)
	}
	if len(clocks) == 0 {
		return nil
	}
	best, offsets := 0, map[time.Duration]bool{}
	agree := map[string]int{}
	names := zones()
	if own != "" && own != "Local" {
		names = append([]string{own}, slices.DeleteFunc(names, func(name string) bool { return name == own })...)
	}
	for _, name := range names {
		zone, err := time.LoadLocation(name)
		if err != nil {
			continue
		}
		for _, c := range clocks {
			if _, here := c.UTC.In(zone).Zone(); time.Duration(here)*time.Second == c.Offset {
				agree[name]++
			}
		}
		best = max(best, agree[name])
	}
	for _, c := range clocks {
		offsets[c.Offset] = true
	}
	if 10*best < 9*len(clocks) {
		return nil // clocks that agree on no zone propose none
	}
	for _, name := range names {
		if agree[name] == best {
			p.Zones = append(p.Zones, name)
		}
	}
	p.ZoneSeen = fmt.Sprintf("%d of %d clocks of watch files agree with it", best, len(clocks))
	return nil
}
