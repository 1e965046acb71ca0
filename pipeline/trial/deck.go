package trial

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html/template"
	"math"
	"math/rand/v2"
	"strconv"
)

// Deck is what a plan brings to the pool deck: who swims which rates in which
// order.
type Deck struct {
	Study     string
	Swimmers  []DeckSwimmer
	Sessions  int
	Bouts     int
	RangePct  float64
	Steps     int
	DistanceM int
	Pool      string // as in a lane sheet: 25m, 50m, 25y
	Pace      string // for the distance, as it is to be held; "" for one to be agreed
	RestS     int
	Seed      uint64
}

// DeckSwimmer is somebody who swims; UsualSPM is their usual rate at that pace, arm
// strokes a minute in mid-pool, 0 where it is yet to be counted.
type DeckSwimmer struct {
	Name     string
	UsualSPM float64
}

// DeckBout is one line of the sheet.
type DeckBout struct {
	Rep       int
	Pct       int // of the usual rate
	TargetSPM int // 0 where the usual rate is not known
}

// DeckSession is one swimmer's session.
type DeckSession struct {
	Swimmer string
	Session int
	Usual   float64
	Bouts   []DeckBout
}

// Laid deals the rates: each session holds each step as often as it goes, in an
// order drawn by lot for every swimmer and session.
func (d Deck) Laid() []DeckSession {
	var out []DeckSession
	for i, sw := range d.Swimmers {
		for session := range d.Sessions {
			r := rand.New(rand.NewPCG(d.Seed, uint64(i)<<32|uint64(session)))
			pcts := make([]int, d.Bouts)
			for k := range pcts {
				step := (k + session) % d.Steps // what does not divide evenly moves on from session to session
				pcts[k] = int(math.Round(100 - d.RangePct + 2*d.RangePct*float64(step)/float64(max(1, d.Steps-1))))
			}
			r.Shuffle(len(pcts), func(a, b int) { pcts[a], pcts[b] = pcts[b], pcts[a] })
			s := DeckSession{Swimmer: sw.Name, Session: session + 1, Usual: sw.UsualSPM}
			for k, pct := range pcts {
				s.Bouts = append(s.Bouts, DeckBout{Rep: k + 1, Pct: pct, TargetSPM: int(math.Round(sw.UsualSPM * float64(pct) / 100))})
			}
			out = append(out, s)
		}
	}
	return out
}

// Sheet is the lane sheet to fill in, which the reader takes as it is: CSV.
func (d Deck) Sheet() ([]byte, error) {
	var b bytes.Buffer
	to := csv.NewWriter(&b)
	rows := [][]string{{"swimmer", "date", "start", "session", "rep", "distance_m", "pool", "stroke", "time", "strokes", "count", "hr", "hr_source", "hr_delay", "rest", "rate_target", "notes"}}
	for _, s := range d.Laid() {
		for _, bout := range s.Bouts {
			target := ""
			if bout.TargetSPM > 0 {
				target = strconv.Itoa(bout.TargetSPM)
			}
			rows = append(rows, []string{s.Swimmer, "", "", strconv.Itoa(s.Session), strconv.Itoa(bout.Rep), strconv.Itoa(d.DistanceM), d.Pool, "freestyle",
				"", "", "arms", "", "strap", "", strconv.Itoa(d.RestS), target, fmt.Sprintf("%d %% of usual", bout.Pct)})
		}
	}
	if err := to.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("deck sheet: %w", err)
	}
	return b.Bytes(), nil
}

// Page is the same to print: HTML for A4 and Letter.
func (d Deck) Page() ([]byte, error) {
	var b bytes.Buffer
	var steps []int
	for i := range d.Steps {
		steps = append(steps, int(math.Round(100-d.RangePct+2*d.RangePct*float64(i)/float64(max(1, d.Steps-1)))))
	}
	var usual []float64
	for v := 30.0; v <= 80; v += 2 {
		usual = append(usual, v)
	}
	err := deckPage.Execute(&b, map[string]any{"D": d, "Sessions": d.Laid(), "Steps": steps, "Usual": usual,
		"Of": func(usual float64, pct int) int { return int(math.Round(usual * float64(pct) / 100)) }})
	if err != nil {
		return nil, fmt.Errorf("deck page: %w", err)
	}
	return b.Bytes(), nil
}

var deckPage = template.Must(template.New("deck").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Sessions of {{.D.Study}}</title>
<style>
:root { color-scheme: light dark; }
body { font: 16px/1.45 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.6rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .4rem; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid #767676; padding: .35rem .5rem; text-align: right; }
th { font-weight: 600; }
td.write { min-width: 4.5rem; height: 1.6rem; }
section { break-inside: avoid; }
@media print { body { margin: 0; max-width: none; font-size: 11pt; } @page { margin: 15mm; } }
</style>
</head>
<body>
<main>
<h1>Sessions of {{.D.Study}}</h1>
<p>{{.D.Bouts}} repeats of {{.D.DistanceM}} m a session, {{.D.Sessions}} sessions each, freestyle, pool {{.D.Pool}}. Every repeat at the same pace{{with .D.Pace}}, {{.}}{{else}}: agree on one that each can hold throughout, and write it here: ____________{{end}}. Rest {{.D.RestS}} s. The rate of each repeat is set, in the order printed, which was drawn by lot: do not change it on the day.</p>
<h2>Before the first</h2>
<ol>
<li>Count each swimmer's usual rate at that pace in mid-pool: arm strokes a minute, over ten strokes or more, on two repeats.</li>
<li>The set rate is a share of it; the table at the end has the numbers. A tempo beeper holds it.</li>
<li>Wear a chest strap. Write the heart rate at the touch, or let the watch record.</li>
</ol>
<h2>Write down</h2>
<p>Time, arm strokes of the whole repeat, heart rate, and anything that went otherwise: a stop, another kick, water. The sheet <strong>deck.csv</strong> has the same lines to be filled in; lengthwise reads it as it is. A repeat that did not go as set is written down as it went, never left out.</p>
<h2>Mind</h2>
<ul>
<li>Nothing here is medical advice. Chest pain, faintness, an odd pulse or breathlessness out of proportion end the session and are a doctor's matter. Whoever takes medicine that alters heart rate asks their doctor first.</li>
<li>Higher rates load the shoulders more often, longer strokes load them harder: warm up, go in small steps, and stop at pain.</li>
<li>Breathe as usual. No breath-holding, and nobody swims alone.</li>
<li>Swimmers under 18 need the consent of a parent or guardian, and their own agreement. The club's safeguarding rules and local law come first.</li>
</ul>
{{$of := .Of}}{{$d := .D}}
{{range .Sessions}}<section>
<h2>{{.Swimmer}}, session {{.Session}}</h2>
<table>
<thead><tr><th scope="col">repeat</th><th scope="col">% of usual</th><th scope="col">set, /min</th><th scope="col">time</th><th scope="col">strokes</th><th scope="col">heart rate</th><th scope="col">remarks</th></tr></thead>
<tbody>{{range .Bouts}}<tr><td>{{.Rep}}</td><td>{{.Pct}}</td><td>{{if .TargetSPM}}{{.TargetSPM}}{{end}}</td><td class="write"></td><td class="write"></td><td class="write"></td><td class="write"></td></tr>
{{end}}</tbody>
</table>
</section>
{{end}}<section>
<h2>Rates to set, arm strokes a minute</h2>
<table>
<thead><tr><th scope="col">usual</th>{{range .Steps}}<th scope="col">{{.}} %</th>{{end}}</tr></thead>
<tbody>{{$steps := .Steps}}{{range $u := .Usual}}<tr><th scope="row">{{$u}}</th>{{range $steps}}<td>{{call $of $u .}}</td>{{end}}</tr>
{{end}}</tbody>
</table>
</section>
</main>
</body>
</html>
`))
