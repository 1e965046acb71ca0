package findings

import (
	"strings"
)

// Cautions that go with one swimmer's finding.
const (
	// CautionSteps goes with every direction of stroke rate (small steps and
	// shoulder load: common practice, no source).
	CautionSteps = "This is no instruction: another stroke rate is tried in small steps if at all, and with an eye on the shoulders."
	// CautionMedication replaces any remark on which rate to try.
	CautionMedication = "The roster notes medication that alters heart rate: no advice on stroke rate follows from this."
	// CautionEachRate goes with single rates that read dearer or cheaper where the
	// swimmer's verdict is undecided.
	CautionEachRate = "Each interval is taken by itself, without allowing for how many rates and swimmers were looked at: no verdict follows from it, and that on the stroke rate stays undecided for these bouts."
)

// Cautions lists what is to be read before anything is done with a study. The
// advice on symptoms, small steps and shoulders is common practice, no source. They
// are the same for every study and swimmer, so that they tell nobody's medication.
func Cautions() []string {
	return []string{
		"Nothing here is medical advice. Heart rates differ between healthy people and from day to day. Chest pain, fainting, a racing or irregular pulse, or breathlessness out of proportion are matters for a doctor before any further training.",
		"A result is not an instruction. Whoever tries another stroke rate does so in small steps, a few per cent at a time, under the coach's eye: more strokes a minute load the shoulders more often, longer strokes load them harder each time. Pain ends the trial.",
		"Some medicines, beta blockers among them, alter heart rate. Where the roster notes it, no advice on stroke rate is drawn; where it does not, that may only mean that nobody was asked.",
		"Heart rate is not a valid cost for breath patterns: holding the breath can keep it down while carbon dioxide rises. Nothing here is advice on breathing, and nothing here is a reason to breathe less often.",
		"Records of swimmers under 18 need the consent of a parent or guardian, and the young person's own agreement. Keep them with those who need them, under the club's safeguarding rules, and publish nothing that lets a child be recognised.",
	}
}

// pooledLead begins the sentence on what an estimate was pooled over.
const pooledLead = "Bouts that differ were pooled: "

// pooledOver puts a row's list of differing keys ("pool: 25 m 60, 50 m 36;
// stroke count: arms 90, cycles 6") into a sentence.
func pooledOver(list string) string {
	keys := strings.Split(list, "; ")
	for i, key := range keys {
		if name, values, ok := strings.Cut(key, ": "); ok {
			keys[i] = name + " (" + values + ")"
		}
	}
	return pooledLead + strings.Join(keys, "; ") + "."
}
