package identity

// squadKind is the kind of id that stands for a squad.
const squadKind = "squad"

// SquadID is what a squad is called in what may leave: its name is free text
// and may hold anybody's. "" for none; as-given, the name itself.
func (r *Registry) SquadID(name string) string {
	folded := Fold(name)
	switch {
	case folded == "":
		return ""
	case r.asGiven:
		return Tidy(name)
	}
	return r.claimID(squadKind, r.ids.id(squadKind, "q-", r.ids.swimmer, folded), folded)
}
