package normalise

// Holding says whose a recording is taken for: the part of a file, the hash of
// the bytes it was read from, the recorder's keyed hash and creation time (""
// and 0 when there are none), and the owner's pseudonym.
type Holding struct {
	FileID  string
	Part    int
	Content string
	Device  string
	Created int64
	Swimmer string
}

// AcrossSwimmers gives the holdings whose owner is in doubt, in the order of
// the input: another file holds the same recording (the same bytes, or the
// same recorder and creation time) under another swimmer. Which of them swam
// cannot be told, so none may be used: the caller refuses each of these
// recordings as RuleTwoOwners before it calls Sessions.
//
// A sheet names several swimmers within one file; the parts of one file never
// cast doubt on each other, and neither do holdings without an owner.
func AcrossSwimmers(holdings []Holding) []Holding {
	type key struct {
		part            int
		content, device string
		created         int64
	}
	type owner struct {
		first string
		more  bool
	}
	keys := func(h Holding) []key {
		var ks []key
		if h.Content != "" {
			ks = append(ks, key{part: h.Part, content: h.Content})
		}
		if h.Device != "" && h.Created != 0 {
			ks = append(ks, key{part: h.Part, device: h.Device, created: h.Created})
		}
		return ks
	}
	owners := map[key]owner{}
	for _, h := range holdings {
		if h.Swimmer == "" {
			continue
		}
		for _, k := range keys(h) {
			o, known := owners[k]
			if !known {
				o.first = h.Swimmer
			}
			o.more = o.more || o.first != h.Swimmer
			owners[k] = o
		}
	}
	var doubtful []Holding
	for _, h := range holdings {
		if h.Swimmer == "" {
			continue
		}
		for _, k := range keys(h) {
			if owners[k].more {
				doubtful = append(doubtful, h)
				break
			}
		}
	}
	return doubtful
}
