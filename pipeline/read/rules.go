package read

// RuleAbout says what an entry of this package means.
type RuleAbout struct{ ID, About string }

// Rules lists the rules that reading itself applies, with what each means.
// They say what a file is and cannot be switched off; the rules that judge
// what was swum are screen.Rules.
func Rules() []RuleAbout {
	return []RuleAbout{
		{"checksum", "the file's checksum fits none of the ways in which recorders form it: it was read as far as it goes"},
		{"truncated", "the file, or one of the sequences chained in it, ends before its own header says: it was read as far as it goes"},
		{"stated-size", "the file's header states fewer bytes of messages than there are: all were read"},
		{RuleUnreadable, "bytes, or a cell, that say nothing that can be read"},
		{"field-twice", "a message holds one field twice: the first is used"},
		{"no-session", "the recording has no summary: sport and pool are not known from it"},
		{"no-pool", "the recording states no pool length"},
		{"clock-not-set", "the recorder's clock was never set"},
		{"clock-set-back", "the recorder's clock was set back during the session: what follows is laid behind what was before; heart rate that may be of either clock is excluded"},
		{"lengths-overlap", "a length begins well before the one before it had ended by its own seconds"},
		{"unknown-zone", "the recorder's local time is no zone's: the study's zone is used"},
		{"zone-differs", "the recorder's local time is another zone's than the study's"},
		{"length-count", "the summary counts other lengths than there are: those that are there count"},
		{"cadence-contradicts", "the recorded cadence is not that of its strokes and seconds: the latter are used"},
		{"speed-contradicts", "the recorded speed is not that of pool and seconds: the latter are used"},
		{"open-water", "a swim in open water: no pool, no lengths"},
		{"not-pool-swimming", "another sport, or a swim without pool lengths"},
		{"no-lengths", "a pool swim without lengths"},
		{"length-type", "a length that is neither swum nor rest"},
		{"outside-session", "before the start or after the end of every session"},
		{"no-time", "the record has no time, or none that can be"},
		{"padding", "a strap's packet is filled up with repeats of one beat"},
		{"second-source", "a strap gives the heart rate: where its log runs, the recorder's own samples are not used"},
		{"too-many", "more records than one file may hold"},
		{RuleMissingCell, "a cell that every row needs is empty"},
		{RuleMissingColumn, "a column that every row needs is not there"},
		{RuleUnknownColumn, "a header of the roster is none of its columns: what stands below it is not used"},
		{RuleTooManyCells, "more cells than the header has: nothing is where it should be"},
		{RuleNotWhole, "the distance is no whole number of pool lengths"},
		{RuleTotalsRow, "a row that sums up, or averages, other rows"},
		{RuleHeaderAgain, "the header once more, or another one for the rows below it"},
		{RuleHeadingRow, "above the header or between rows stands what holds for the rows below"},
		{RuleFromAbove, "blank cells of a row that goes on with the swimmer above it: what stands there holds"},
		{RuleDateOrder, "whether day or month comes first in the file's dates, known from those that can be read in one way only"},
		{RuleDayNumber, "a date written as the day number of a spreadsheet"},
		{RuleTimeUnit, "a time or rest in another unit than it seems, such as a share of a day: nobody could swim so in the unit it seems"},
		{RulePulseCount, "a heart rate written as a count of beats over some seconds"},
		{RuleStrokesDoubt, "a count of strokes that is written for each length, or that can be no total or no mean"},
		{RuleLengthDistance, "under length stand distances, not the numbers of lengths"},
		{RuleDistanceUnit, "a distance in a pool of yards, without its unit: it is a whole number of lengths in yards alone"},
		{RuleRowTwice, "a row stands there twice, with the same repeat, cell by cell: it counts once"},
		{RuleRestAfter, "rests stand in the row of the swim before them: each counts before the next row"},
		{RuleRunningTime, "times that run on from length to length: each length's own is the difference"},
		{RuleStartAgain, "starts that are those of rows, not of the session"},
		{RuleWideSheet, "several repeats side by side in one row: each is a record of its own"},
		{RuleTwiceColumn, "a column stands twice: the first is used"},
		{RuleDistance, "a row of one length states another distance: the pool's is used"},
		{RuleNamesSomebody, "a note names a swimmer where its tag or value stands, which tables show: it is not used"},
		{RuleFirstRest, "a rest before the first swim of a session: rest is the rest before a row, and this one is not used"},
		{"length-twice", "a length is there twice, with the same number, start and duration: it counts once"},
		{RuleClockChange, "a local time that was there twice, or never, when the clocks changed"},
	}
}
