package activityfile

// NumLengths is a convention for the number of lengths in a session message.
type NumLengths int

// What num_lengths has been seen to mean.
const (
	ActiveAndIdle           NumLengths = iota // every length message
	ActiveAndIdleInInterval                   // idle ones only inside laps that hold active ones
	ActiveOnly
)

// NoStrokes is a way of writing a length whose strokes were not measured.
type NoStrokes int

// The three ways in use.
const (
	StrokesUndefined NoStrokes = iota // the field is not defined
	StrokesInvalid                    // the field holds the invalid value
	StrokesZero                       // the field holds 0
)

// LengthTimestamps says what stands in the timestamp field of length messages.
type LengthTimestamps int

const (
	TimestampAtEnd   LengthTimestamps = iota // the second in which the length ended
	TimestampLate                            // the end of the lap plus LateSeconds
	TimestampInvalid                         // the invalid value
)

// Order is the order of messages in the file.
type Order int

const (
	ByTime       Order = iota // as written: lengths, laps and records interleaved, summary last
	SummaryFirst              // session and activity, then laps, lengths and records
	Shuffled                  // as written, but lengths and laps in no order
)

// Widths is how wide the fields of length messages are.
type Widths int

const (
	AsProfile Widths = iota
	Narrower         // strokes and cadence in one byte each, where they fit
	Wider            // strokes as an array of three, stroke type as one of two, the first of which counts
)

// Quirks switches on what real files do. The zero value is a clean file.
type Quirks struct {
	// Header and bytes.
	HeaderChecksumZero bool // header checksum 0, file checksum over header and data
	Header12           bool // header of 12 bytes, file checksum over header and data
	ChecksumOverData   bool // with either of these: file checksum over the data alone
	CorruptChecksum    bool // file checksum wrong
	StatedSizeShort    int  // the header states so many bytes of messages fewer than there are, where there are
	TruncateAt         int  // cut the file after so many bytes; 0: whole
	BigEndian          bool // all messages big-endian
	OneLocalType       bool // one local message type, defined anew for each kind of message
	ShortTimestamps    bool // time stamps of 5 bits in the message header, where they fit

	// Strap heart rate, in sequences of its own after the activity.
	BeatBlocks       int     // number of sequences; 0: one
	BeatsPerPacket   int     // beats a message, 2 to 8 and even; 0: eight
	BeatStartValue   uint8   // value of each strap log's first sample; 0: as measured
	BeatSecondAnchor bool    // half-way through each block: event_timestamp without timestamp
	BeatClockSeconds float64 // reading of the strap's clock at StartUTC; 0: 100000

	// Numbers and times of lengths.
	NumLengths          NumLengths
	OmitNumActive       bool // no num_active_lengths in the session
	LengthTimestamps    LengthTimestamps
	LateSeconds         float64 // with TimestampLate
	StartDriftSeconds   float64 // length start times run ahead by so much over a lap
	ZeroIdleDurations   bool    // every other idle length lasts 0 s
	WallSecondsOut      float64 // left out of each active length that is followed by another at once
	NoStrokes           NoStrokes
	CreatedDelaySeconds float64 // file_id.time_created after the start
	ClockBackSeconds    float64 // the recorder's clock is set back by so much ...
	ClockBackAt         float64 // ... at this second after the start

	// Laps and order.
	Order        Order
	OneLap       bool // all lengths in one lap
	StrayLap     bool // a lap of 0.435 s with no lengths at the end
	OmitSession  bool // no session and activity message
	LapsTogether bool // lap messages only at the end, as some recorders write them

	// What a reader must skip or survive.
	DuplicateField  bool // length messages hold avg_speed twice, with different values
	StrokesTwice    bool // length messages hold total_strokes twice; the second value is wrong
	Widths          Widths
	UnknownMessages bool // a message and a field that no profile knows
	DeveloperFields bool // developer fields, their index used by two apps
	OtherSoftware   bool // differs in bytes but not in content: a re-export
}
