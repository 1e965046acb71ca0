package publish

import (
	"strings"
	"testing"

	"lengthwise/pipeline/findings"
)

// A page by pseudonym says who may see it, and of nobody that they take
// medication; the squad's own page says both names and medication.
func TestPseudonymPageKeepsMedicationBack(t *testing.T) {
	b := builder{}
	cautions := []string{findings.CautionSteps, findings.CautionMedication}
	if got := b.showable(cautions); len(got) != 1 || got[0] != findings.CautionSteps {
		t.Errorf("by pseudonym: %q", got)
	}
	b.Name = func(p string) string { return p }
	if got := b.showable(cautions); len(got) != 2 {
		t.Errorf("with names: %q", got)
	}
	in := invented(4)
	in.Name = nil
	if page := string(render(t, in)); !strings.Contains(page, "That is not anonymous") {
		t.Error("a page by pseudonym does not say who may see it")
	}
	in.Name = b.Name
	if page := string(render(t, in)); strings.Contains(page, "That is not anonymous") {
		t.Error("a page with names calls them pseudonyms")
	}
}
