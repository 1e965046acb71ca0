package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"lengthwise/schemas"
)

// modelLife is a model that the length's bout entered, or one of its swimmer and
// stroke that it did not.
type modelLife struct {
	Stroke    string           `json:"stroke"`
	Design    string           `json:"design"`
	Model     string           `json:"model"`
	In        bool             `json:"in"`
	Why       string           `json:"why"` // why it is not in
	Bouts     int32            `json:"bouts"`
	Sessions  int32            `json:"sessions"`
	Finding   string           `json:"finding"` // the answer in a sentence
	Fit       map[string]any   `json:"fit"`
	Terms     []map[string]any `json:"coefficients"`
	HeartCost map[string]any   `json:"heart_cost"` // of the session, where the model is that of all its bouts

	terms []schemas.Coefficient
}

// models finds the bout of a length and the models that it entered.
func (e *explainer) models(x *life, st *story) error {
	at := slices.IndexFunc(st.bouts, func(b schemas.Bout) bool { return b.Session == x.Session && b.Bout == x.length.Bout })
	if at < 0 {
		x.NoModels = "it is in no bout"
		return nil
	}
	b := st.bouts[at]
	x.bout = &b
	switch {
	case !b.Usable:
		x.NoModels = "its bout is not usable: " + word(b.Reason)
		return nil
	case !slices.Contains(e.s.Analysis.Strokes, b.Stroke):
		x.NoModels = fmt.Sprintf("the study asks about %s (analysis.strokes), not about %s", strings.Join(e.s.Analysis.Strokes, ", "), strokeWords(b.Stroke))
		return nil
	}
	fits, err1 := rowsOf[schemas.Fit](e.s, "fits")
	terms, err2 := rowsOf[schemas.Coefficient](e.s, "coefficients")
	found, err3 := rowsOf[schemas.Finding](e.s, "findings")
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	for _, f := range fits {
		if f.Swimmer != b.Swimmer || f.Stroke != b.Stroke {
			continue
		}
		m := modelLife{Stroke: f.Stroke, Design: f.Design, Model: f.Model, Bouts: f.N, Sessions: f.Sessions, Fit: byColumn(f)}
		m.In, m.Why = entered(st.bouts, &b, f.Design)
		if m.In && f.Sigma == nil {
			m.In, m.Why = false, "there is no such model yet: too little data"
		}
		if m.In {
			for _, t := range terms {
				if t.Swimmer == f.Swimmer && t.Stroke == f.Stroke && t.Design == f.Design && t.Model == f.Model {
					m.terms = append(m.terms, t)
				}
			}
			m.Terms = allByColumn(m.terms)
		}
		for _, r := range found {
			if r.Finding == "by-swimmer/"+f.Swimmer+"/"+f.Stroke+"/"+f.Design {
				m.Finding = r.Sentence
			}
		}
		x.Models = append(x.Models, m)
	}
	return nil
}

// entered tells whether a usable bout is in the model of a design, and if not why.
// Models compare bouts within sessions, so that one alone says nothing.
func entered(bouts []schemas.Bout, b *schemas.Bout, design string) (in bool, why string) {
	fits := func(o *schemas.Bout) bool { return design == "all" || o.Designed == (design == "designed") }
	if !fits(b) {
		return false, "the bout is " + designOf(*b)
	}
	alike := 0
	for i := range bouts {
		if o := &bouts[i]; o.Session == b.Session && o.Stroke == b.Stroke && o.Usable && fits(o) {
			alike++
		}
	}
	if alike < 2 {
		return false, "it is the only such bout of its session, and bouts are compared within sessions"
	}
	return true, ""
}

// strokeWords is a stroke as it stands in a sentence.
func strokeWords(stroke string) string {
	if stroke == "unknown" {
		return "a stroke that is not stated"
	}
	return stroke
}

func (e *explainer) printMeasures(x *life) {
	l := x.length
	if h := x.Heart; h != nil && h.Samples > 0 {
		e.print("", "Heart rate during it")
		text := fmt.Sprintf("%s, all in use", count(h.Samples, "sample"))
		if len(h.Out) > 0 {
			var parts []string
			for rule, n := range h.Out {
				parts = append(parts, fmt.Sprintf("%d by %s", n, rule))
			}
			slices.Sort(parts)
			text = fmt.Sprintf("%s; left out %s", count(h.Samples, "sample"), strings.Join(parts, ", "))
		}
		if l.HRBPM != nil {
			text += fmt.Sprintf("; mean %.0f bpm", *l.HRBPM)
		}
		e.item(text)
	}
	e.print("", "Measures")
	e.item(fmt.Sprintf("%.3f m/s, which is %s for 100 m", l.SpeedMPS, pace(l.PaceSPer100M)))
	if l.StrokeRateSPM == nil {
		e.item("without strokes there is no rate, no distance per stroke and no score")
		return
	}
	e.item(fmt.Sprintf("%s strokes a minute, %s m a stroke, stroke index %s m2/s", shown(l.StrokeRateSPM, 1), shown(l.DistancePerStrokeM, 2), shown(l.StrokeIndex, 2)))
	e.item(fmt.Sprintf("score (strokes and seconds) %s; as the recorder counts %s; for 25 m %s", shown(l.Score, 1), shown(l.ScoreRecorded, 1), shown(l.Score25, 1)))
}

func (e *explainer) printBout(x *life) {
	b := x.bout
	if b == nil {
		return
	}
	e.print("", fmt.Sprintf("Bout %d of the session", b.Bout))
	text := fmt.Sprintf("%.0f m %s in %s, %s for 100 m, %s", b.DistanceM, b.Stroke, clockOf(b.DurationS), pace(b.PaceSPer100M), count(int(b.Lengths), "length"))
	if b.RepairedLengths > 0 {
		text += fmt.Sprintf(" (%d repaired)", b.RepairedLengths)
	}
	if b.Block > 1 {
		text += fmt.Sprintf(", block %d of its swim", b.Block)
	} else if b.RestBeforeS != nil {
		text += fmt.Sprintf(", after %.0f s of rest", *b.RestBeforeS)
	}
	e.item(fmt.Sprintf("%s, %.0f minutes into the session", text, b.MinutesIn))
	if b.StrokeRateSPM != nil {
		e.item(fmt.Sprintf("%s strokes a minute, %s m a stroke, score for 25 m %s", shown(b.StrokeRateSPM, 1), shown(b.DistancePerStrokeM, 2), shown(b.Score25, 1)))
	}
	if b.HRSteadyBPM != nil {
		how := map[string]string{"kinetics": "the value that its samples approach", "window": "the mean of its last seconds", "reported": "a reading at its end"}[word(b.HRMethod)]
		text := fmt.Sprintf("heart rate %s bpm (%s; source %s)", shown(b.HRSteadyBPM, 0), how, word(b.HRSource))
		if b.Cost != nil {
			text += fmt.Sprintf("; cost %s %s", shown(b.Cost, 1), e.s.Cost.Unit())
		}
		e.item(text)
	}
	design := designOf(*b)
	if tags := tagsOf(*b); tags != "" {
		design += ": " + tags
	}
	e.item(design)
}

func (e *explainer) printModels(x *life) {
	e.print("", "Models")
	if x.NoModels != "" {
		e.item("none: " + x.NoModels)
		return
	}
	if len(x.Models) == 0 {
		e.item("none of this swimmer's " + x.bout.Stroke)
	}
	for _, m := range x.Models {
		if !m.In {
			e.item(fmt.Sprintf("%s %s: not in it; %s", m.Stroke, m.Design, m.Why))
			continue
		}
		e.item(fmt.Sprintf("%s %s: the bout is one of %s from %s", m.Stroke, m.Design, count(int(m.Bouts), "bout"), count(int(m.Sessions), "session")))
		if m.Finding != "" {
			e.print(wrap(m.Finding, e.c.width, "    ", "    ")...)
		}
		if len(m.terms) == 0 {
			continue
		}
		e.print(fmt.Sprintf("    %-26s %9s  %9s   95 %% interval", "term ("+e.s.Cost.Unit()+" a unit)", "estimate", "std error"))
		for _, t := range m.terms {
			e.print(fmt.Sprintf("    %-26s %9.4g  %9.3g   %.4g to %.4g", t.Term, t.Estimate, t.StdError, t.ConfLow, t.ConfHigh))
		}
	}
}
