package study

// ColumnNames lists our names of the columns of a kind of table, in the order
// in which the documentation gives them; nil for activity files.
func ColumnNames(kind InputKind) []string {
	switch kind {
	case Sheet:
		return []string{
			"swimmer", "date", "start", "session", "set", "rep", "length", "distance_m", "pool", "stroke",
			"time", "strokes", "count", "hr", "hr_source", "hr_delay", "rest", "rpe", "lactate",
			"lactate_before", "vo2", "instruction", "rate_target", "wall_time", "breathing", "kick",
			"equipment", "notes",
		}
	case HeartRate:
		return []string{"swimmer", "timestamp", "hr"}
	}
	return nil
}
