package evidence

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"slices"
	"strconv"

	"lengthwise/pipeline/findings"
)

//go:embed assets/pack.css
var packCSS string

//go:embed assets/handout.html
var handoutText string

//go:embed assets/slides.html
var slidesText string

//go:embed assets/slides.js
var slidesJS string

//go:embed assets/explorer.html
var explorerText string

//go:embed assets/explorer.js
var explorerJS string

//go:embed assets/parts.html
var partsText string

// pageView is what all three pages see.
type pageView struct {
	Policy     string
	CSS        template.CSS
	JS         template.JS
	Data       template.JS // of the explorer
	Title      string
	Unit, Cost string
	Version    string
	Licence    string
	Claims     []claimView
	Figures    []figureView
	Groups     []groupView // the same by what they are about
	Explorer   bool
	Withheld   int
	Group      int
	Limits     []string
	Cautions   []string
	Sources    []string
	MostPairs  int
	Organ      string // that says what a bout costs
}

type claimView struct {
	Claim
	Estimate, Between, Predict string
	Lead                       string
	Small                      *figureView // beside the claim on its slide; nil where it is tall
}

// groupView is a figure with the claims that it is about; one of them may be
// wanting.
type groupView struct {
	About  string
	Figure *figureView
	Claims []claimView
}

type figureView struct {
	Name, Heading, Alt, Note string
	Says                     []string
	Source                   template.URL // a data URI: the page loads nothing
	Width, Height            int
	Tall                     bool // it gets a slide of its own
}

// addPages adds the handout, the slides and, where there are pairs, the explorer.
func (p *pack) addPages() error {
	base := p.view()
	pages := []struct{ name, text, script string }{
		{"handout.html", handoutText, ""}, {"slides.html", slidesText, slidesJS},
	}
	if len(p.chosen) > 0 {
		pages = append(pages, struct{ name, text, script string }{"explorer.html", explorerText, explorerJS})
	}
	for _, page := range pages {
		v := base
		v.JS = template.JS(page.script)
		v.Policy = policy(packCSS, page.script)
		if page.name == "explorer.html" {
			data, err := json.Marshal(map[string]any{"unit": p.unit, "organ": organ(p.Cost.Measure), "sets": p.chosen})
			if err != nil {
				return err
			}
			v.Data = template.JS(data)
		}
		t, err := template.New(page.name).Parse(page.text)
		if err == nil {
			_, err = t.Parse(partsText)
		}
		if err != nil {
			return fmt.Errorf("template of %s: %w", page.name, err)
		}
		var b bytes.Buffer
		if err := t.Execute(&b, v); err != nil {
			return fmt.Errorf("%s: %w", page.name, err)
		}
		p.add(page.name, b.Bytes())
	}
	return nil
}

// tall is the height, in CSS pixels, from which a figure does not fit beside a
// claim on one screen.
const tall = 420

func (p *pack) view() pageView {
	v := pageView{
		CSS: template.CSS(packCSS), Title: p.Title, Unit: p.unit, Cost: costWords(p.Cost.Measure), Version: p.Version, Licence: p.Licence,
		Explorer: len(p.chosen) > 0, Withheld: p.withheld, Group: p.SmallestGroup, Limits: p.limits(), Cautions: cautions(), Sources: sources(), MostPairs: mostPairs, Organ: organ(p.Cost.Measure),
	}
	for _, f := range p.figures {
		v.Figures = append(v.Figures, figureView{Name: f.name, Heading: f.heading, Alt: f.picture.Desc, Note: f.note, Says: f.says,
			Source: template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(f.picture.SVG())),
			Width:  int(f.picture.Width), Height: int(f.picture.Height), Tall: f.picture.Height > tall || len(f.questions) == 0})
	}
	for _, c := range p.claims {
		view := claimView{Claim: c, Estimate: p.value(c, c.Estimate), Between: p.value(c, c.IntervalLow) + " to " + p.value(c, c.IntervalTop), Lead: lead(c)}
		if c.PredictLow != nil && c.PredictHigh != nil {
			view.Predict = p.value(c, *c.PredictLow) + " to " + p.value(c, *c.PredictHigh)
		}
		for i, f := range p.figures {
			if slices.Contains(f.questions, c.Question) && f.picture.Height <= tall {
				view.Small = &v.Figures[i]
			}
		}
		v.Claims = append(v.Claims, view)
	}
	v.Groups = p.groups(v)
	return v
}

// groups puts claims on one question together, under the figure that is first of
// all about it; figures of no claim come last.
func (p *pack) groups(v pageView) []groupView {
	var out []groupView
	shown := map[string]bool{}
	for i, c := range v.Claims {
		if i == 0 || v.Claims[i-1].Question != c.Question {
			g := groupView{About: c.About}
			for k, f := range p.figures {
				if len(f.questions) > 0 && f.questions[0] == c.Question {
					g.Figure, shown[f.name] = &v.Figures[k], true
				}
			}
			out = append(out, g)
		}
		out[len(out)-1].Claims = append(out[len(out)-1].Claims, c)
	}
	for k, f := range p.figures {
		if !shown[f.name] {
			out = append(out, groupView{About: f.heading, Figure: &v.Figures[k]})
		}
	}
	return out
}

// value writes a claim's number with its unit.
func (p *pack) value(c Claim, v float64) string {
	switch {
	case c.Table == "score_overall" && (c.Question == findings.Raw || c.Question == findings.Between):
		return signed(v, 2)
	case c.Unit == "1":
		return strconv.FormatFloat(100*v, 'f', 1, 64) + " %"
	case c.Question == findings.BetweenDays:
		return strconv.FormatFloat(v, 'f', p.digits, 64) + " " + c.Unit
	}
	return signed(v, p.digits) + " " + c.Unit
}

// lead says how the bouts came about, and so how far the claim goes.
func lead(c Claim) string {
	words := map[string]string{
		findings.Designed: "Set beforehand: this is what it costs",
		findings.Observed: "Swum as liked: this is what goes together",
	}[c.Design]
	if c.Strength != findings.StrengthCosts && c.Design == findings.Designed {
		words = "Set beforehand; across paces or people, so no more than what goes together"
	}
	if words == "" {
		words = "Bouts of both kinds"
	}
	if c.Stroke != "" {
		words = capital(c.Stroke) + ". " + words
	}
	return words
}

// limits are what the data cannot say, as far as it may be shown.
func (p *pack) limits() []string {
	var out []string
	for _, f := range p.Findings {
		if f.Question != findings.Limits {
			continue
		}
		if !p.ownWords(f.Sentence) && !p.tells(f.Sentence) {
			out = append(out, f.Sentence)
		}
	}
	return append(out, "An undecided result is no sign that stroke rate does not matter.",
		"All of it is about these swimmers, at these paces, in these pools, by this measure of cost.")
}

// cautions are read before anybody acts on a claim.
func cautions() []string {
	return append(findings.Cautions(),
		"No breath-holding, and nobody swims alone, whatever a number suggests.",
		"The rules of the pool, the club and the country come first, and so does the practice of licensed professionals.")
}

func costWords(measure string) string {
	switch measure {
	case "hr-reserve":
		return "the share of heart-rate reserve in a bout, in points of 100"
	case "net-beats":
		return "heart beats above rest for each 100 m"
	case "lab":
		return "the energy spent for each metre and kilogram"
	case "rpe":
		return "the swimmer\u2019s own rating of exertion (Borg CR10)"
	}
	return "the steady heart rate of a bout, in beats a minute"
}

// organ is what says what a bout costs.
func organ(measure string) string {
	if measure == "lab" || measure == "rpe" {
		return "body"
	}
	return "heart"
}

// policy lets a page load nothing and use its own style and script alone, named
// by their hashes. Pictures are inside the page.
func policy(style, script string) string {
	p := "default-src 'none'; style-src 'sha256-" + hash64(style) + "'; img-src data:; base-uri 'none'; form-action 'none'"
	if script != "" {
		p += "; script-src 'sha256-" + hash64(script) + "'"
	}
	return p
}

func hash64(s string) string {
	sum := sha256.Sum256([]byte(s))
	return base64.StdEncoding.EncodeToString(sum[:])
}

func hashHex(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
