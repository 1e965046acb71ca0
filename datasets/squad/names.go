package squad

import "fmt"

// Names are invented; family names are made-up compounds so that no real person
// is meant.
var (
	givenNames = [...]struct{ name, sex string }{
		{"Marta", "f"}, {"Ivo", "m"}, {"Lena", "f"}, {"Tomé", "m"}, {"Noor", "f"}, {"Anselm", "m"},
		{"Beatriz", "f"}, {"Joss", "m"}, {"Wilma", "f"}, {"Radek", "m"}, {"Inês", "f"}, {"Otto", "m"},
		{"Saskia", "f"}, {"Davi", "m"}, {"Freya", "f"}, {"Milan", "m"}, {"Rosalind", "f"}, {"Gil", "m"},
		{"Tamsin", "f"}, {"Edgar", "m"}, {"Yara", "f"}, {"Pim", "m"}, {"Clarice", "f"}, {"Bram", "m"},
		{"Odile", "f"}, {"Vasco", "m"}, {"Hanne", "f"}, {"Rui", "m"}, {"Petra", "f"}, {"Zé", "m"},
	}
	familyNames = [...]string{
		"Tidewell", "Quaymoor", "Saltvane", "Harbourne-Lys", "Wrackham", "Ebbridge", "Corvanho",
		"Marelho", "Sandquay", "Fathomby", "Lanternez", "Shoalwick", "Brinehart", "Vagalim",
		"Mooringa", "Keelstrand", "Pierholt", "Ondarés", "Gullane-Roe", "Driftholm", "Algarim",
		"Rowlockson", "Estuarez", "Buoyden", "Slipwater", "Foghorne", "Maresol", "Tarnlight", "Weirmont",
	}
)

// nameSwimmer fills names and sex. The lists have co-prime lengths, so 870 pairs
// pass before one comes again; from there on a number is added.
func nameSwimmer(sw *Swimmer, st stream, seed uint64) {
	st.aim(seed, -1, -1, forNames)
	g0, f0 := st.IntN(len(givenNames)), st.IntN(len(familyNames))
	g := givenNames[(g0+sw.Index)%len(givenNames)]
	f := familyNames[(f0+sw.Index)%len(familyNames)]
	sw.Given, sw.Family, sw.Sex = g.name, f, g.sex
	sw.Handle = plain(g.name) + "-" + plain(f)
	if round := sw.Index / (len(givenNames) * len(familyNames)); round > 0 {
		sw.Handle += fmt.Sprintf("-%d", round+1)
	}
}

// plain lowers ASCII letters and takes the accents off the letters the lists use.
func plain(s string) string {
	out := make([]byte, 0, len(s))
	for _, r := range s {
		switch {
		case r >= 'A' && r <= 'Z':
			out = append(out, byte(r)+'a'-'A')
		case r == 'é' || r == 'ê':
			out = append(out, 'e')
		default:
			out = append(out, byte(r))
		}
	}
	return string(out)
}
