package main

import (
	"fmt"
	"strings"
	"time"
)

// zoneAreas are the areas of the IANA time zone database in which cities lie.
var zoneAreas = []string{"Africa", "America", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific"}

// checkZone refuses what is no IANA time zone, with those that its words fit.
func checkZone(name string) error {
	if isZone(name) {
		return nil
	}
	var likely []string
	try := func(zone string) {
		if isZone(zone) {
			likely = append(likely, zone)
		}
	}
	parts := strings.Split(strings.TrimSpace(name), "/")
	for i, part := range parts {
		parts[i] = zoneWord(part)
	}
	try(strings.Join(parts, "/"))
	if len(likely) == 0 {
		for _, area := range zoneAreas { // the city alone, or in the wrong area
			try(area + "/" + parts[len(parts)-1])
		}
	}
	if len(likely) == 0 {
		return fmt.Errorf("--timezone: %q is no IANA time zone; write one such as Europe/Lisbon", name)
	}
	return fmt.Errorf("--timezone: %q is no IANA time zone; did you mean %s?", name, strings.Join(likely, " or "))
}

// isZone reports whether a name is a zone's. Local is the machine's own, which
// means something else elsewhere.
func isZone(name string) bool {
	if name == "" || strings.EqualFold(name, "local") {
		return false
	}
	zone, err := time.LoadLocation(name)
	return err == nil && zone.String() == name
}

// zoneWord spells a word as the database does: "new york" is New_York.
func zoneWord(word string) string {
	words := strings.FieldsFunc(strings.ToLower(word), func(r rune) bool { return r == ' ' || r == '_' })
	for i, w := range words {
		words[i] = strings.ToUpper(w[:1]) + w[1:]
	}
	return strings.Join(words, "_")
}
