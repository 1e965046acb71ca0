package screen

import (
	"fmt"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

// pulse is a session's samples on their way through the rules.
type pulse struct {
	w        *work
	samples  []normalise.Sample // by time
	out      []int8             // index into findings of each sample, 0: kept
	findings []verdict
	notes    []read.Entry
}

// find keeps what a rule found and gives its number. Samples with one finding
// share ledger rows.
func (p *pulse) find(rule, detail string) int8 {
	for k := range p.findings {
		if p.findings[k] == (verdict{rule, detail}) {
			return int8(k)
		}
	}
	p.findings = append(p.findings, verdict{rule, detail})
	return int8(len(p.findings) - 1)
}

// screenSamples keeps the samples that are heart rates.
func (w *work) screenSamples() (kept []normalise.Sample, entries []read.Entry) {
	p := &pulse{w: w, samples: w.session.Samples, out: make([]int8, len(w.session.Samples)), findings: make([]verdict, 1, 8)}
	p.missing()
	for _, step := range []struct {
		rule  string
		apply func()
	}{{RuleClockBack, p.clockBack}, {RuleLocked, p.locked}, {RuleDropout, p.outside}, {RuleStep, p.steps}} {
		if w.on(step.rule) {
			step.apply()
		}
	}
	type key struct {
		file    string
		finding int8
	}
	var order []key
	records := make(map[key][]int64)
	n := 0
	for i := range p.out {
		if p.out[i] == 0 {
			n++
		}
	}
	kept = make([]normalise.Sample, 0, n)
	for i := range p.samples {
		s := &p.samples[i]
		if p.out[i] == 0 {
			kept = append(kept, *s)
			continue
		}
		k := key{s.FileID, p.out[i]}
		if records[k] == nil {
			order = append(order, k)
		}
		records[k] = append(records[k], s.Record)
	}
	for _, k := range order {
		found := p.findings[k.finding]
		entries = append(entries, normalise.Runs(read.Entry{FileID: k.file, Kind: read.KindHeartRate, Swimmer: w.session.Swimmer,
			Session: w.session.ID, Rule: found.rule, Action: read.Excluded, Detail: found.detail}, records[k])...)
	}
	return kept, append(entries, p.notes...)
}

// missing drops start values and values that mean missing.
func (p *pulse) missing() {
	for i := range p.samples {
		s := &p.samples[i]
		switch {
		case s.First && p.w.on(RuleStartValue):
			p.out[i] = p.find(RuleStartValue, "the sensor's first value, sent before it measured")
		case !(s.BPM > 0 && s.BPM < 255):
			p.out[i] = p.find(RuleDropout, "recorded as missing")
		}
	}
}

// outside drops values outside the limits.
func (p *pulse) outside() {
	set := p.w.settings
	for i := range p.samples {
		if p.out[i] == 0 && !p.w.heartRateInRange(p.samples[i].BPM) {
			p.out[i] = p.find(RuleDropout, fmt.Sprintf("not within %g to %g bpm", set.LowestHRBPM, set.HighestHRBPM))
		}
	}
}
