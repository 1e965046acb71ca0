package normalise

// The ids of the rules that this stage applies. What each says in words, and
// which can be switched off, is listed by screen.Rules.
const (
	RuleNoSwimmer        = "no-swimmer"         // nobody owns the recording
	RuleNoConsent        = "no-consent"         // its owner has not agreed
	RuleForgotten        = "forgotten"          // its owner was removed from the study
	RuleTwoOwners        = "two-owners"         // the same bytes are held under another swimmer
	RuleDuplicate        = "duplicate"          // the same recording again
	RuleSecondRecording  = "second-recording"   // another recording of the same swims is used
	RuleMatchAmbiguous   = "match-ambiguous"    // a sheet's swims fit several swims of a watch
	RulePoolsDisagree    = "pools-disagree"     // a sheet and a watch state other pools for the same swims
	RuleCountsDisagree   = "counts-disagree"    // hand count and recorder's count of one swim
	RuleStrokesDisagree  = "strokes-disagree"   // the stroke by hand and by the recorder of one swim
	RuleSecondsDisagree  = "seconds-disagree"   // the seconds of one swim by hand and by the recorder
	RuleReadingsDisagree = "readings-disagree"  // a heart rate by hand and by the recorder
	RuleNoPool           = "no-pool"            // no length of pool is known
	RuleNoLengths        = "no-lengths"         // the recording holds no lengths
	RuleOutsideSession   = "outside-session"    // heart rate before or after every session
	RuleSecondSource     = "second-source"      // another source gives the session's heart rate
	RuleStrokeFlip       = "stroke-flip"        // another stroke for a length or two of one swim
	RuleWallTime         = "wall-time-left-out" // the recorder leaves out seconds at each wall
	RuleStartsDrift      = "starts-drift"       // starts run ahead of the seconds within laps
	RuleSameDay          = "same-day"           // a sheet looks like another recording, and is not surely the same
	RuleUnreadable       = "unreadable"         // a note's value cannot be read
	RuleNoteUnmatched    = "note-unmatched"     // a note fits no swim
	RuleNoteAmbiguous    = "note-ambiguous"     // a note's numbers fit several sessions of one day
	RuleNoteOverruled    = "note-overruled"     // a cell or another note says otherwise
)
