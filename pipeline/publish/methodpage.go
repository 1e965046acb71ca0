package publish

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/simulated"
	"lengthwise/schemas"
)

//go:embed assets/method.html
var methodText string

// MethodPath is where the page of the method lies beside the squad's.
const MethodPath = "method.html"

// methodView is what the template of the method's page shows.
type methodView struct {
	CSS                    template.CSS
	Policy                 string
	Study, Version         string
	CostName, Unit, Steady string
	SmallestEffect         string
	Sections               []simulationSection
	Sources                []source
}

// MethodPage is the page that says how a study's numbers come about, with its settings
// and what the method did on simulated squads, as one self-contained HTML file.
func MethodPage(in PageInput) ([]byte, error) {
	t, err := template.New("method").Parse(methodText)
	if err == nil {
		_, err = t.Parse(partsText)
	}
	if err != nil {
		return nil, fmt.Errorf("template of the method's page: %w", err)
	}
	rows, err := simulated.Rows()
	if err != nil {
		return nil, fmt.Errorf("page of the method: %w", err)
	}
	rows = slices.DeleteFunc(slices.Clone(rows), func(r schemas.Simulation) bool { return r.Estimator != "swimmer" })
	cost := in.Study.Cost
	v := methodView{CSS: template.CSS(css), Policy: policy(css), Study: findings.Printable(in.Study.Name), Version: in.Version,
		CostName: costName(cost.Measure), Unit: cost.Unit(), SmallestEffect: fixed(in.Study.Analysis.SmallestEffect, findings.Digits(cost)),
		Sections: simulationSections(rows), Sources: sources()}
	if cost.ReadsHeartRate() {
		v.Steady = "Where samples show how heart rate rose in a bout, its steady value is read from the rise, by one time constant a swimmer that is drawn towards the squad\u2019s; elsewhere it counts as steady after a while of unbroken swimming, and readings of shorter bouts are compared at equal distance and rest only, and read effects too small."
	}
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return nil, fmt.Errorf("page of the method: %w", err)
	}
	return b.Bytes(), nil
}
