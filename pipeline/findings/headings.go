package findings

import "strings"

// Heading is what stands above the sentences that answer a question.
func Heading(question string) string {
	switch question {
	case Headline:
		return "The answer"
	case MatchedPace:
		return "At a fixed pace"
	case Concordance:
		return "Pairs of bouts at a matched pace"
	case Raw:
		return "Across paces"
	case Between:
		return "Between swimmers"
	case MixedModel:
		return "One model of all bouts"
	case Advice:
		return "Each score taken as advice"
	case PartlyPooled:
		return "Read together with the squad"
	case BySwimmer:
		return "Swimmer by swimmer"
	case EconomicalRate:
		return "The cheapest stroke rate"
	case CostByRate:
		return "Cost at other stroke rates"
	case RateLength:
		return "Where speed comes from"
	case Limits:
		return "What the data cannot say"
	}
	heading := strings.ReplaceAll(question, "-", " ")
	return capital(heading)
}
