package main

import (
	"os/exec"
	"strings"
	"testing"
)

// rooms lists the module's packages in the order in which data flow. A package
// may import those above it in the list, and none below.
var rooms = []string{
	"lengthwise/schemas",
	"lengthwise/stats",
	"lengthwise/datasets",
	"lengthwise/notebooks",
	"lengthwise/pipeline/study",
	"lengthwise/pipeline/identity",
	"lengthwise/pipeline/read",
	"lengthwise/pipeline/normalise",
	"lengthwise/pipeline/screen",
	"lengthwise/pipeline/derive",
	"lengthwise/pipeline/analyse",
	"lengthwise/pipeline/simulated",
	"lengthwise/pipeline/findings",
	"lengthwise/pipeline/publish",
	"lengthwise/pipeline/share",
	"lengthwise/pipeline/table",
	"lengthwise/pipeline/cache",
	"lengthwise/pipeline/trial",
	"lengthwise/pipeline/run",
	"lengthwise/cmd/lengthwise",
}

// fences holds the walls that the order alone does not: what a room and its
// sub-packages must not import, and why.
var fences = []struct{ room, banned, why string }{
	{"lengthwise/schemas", "lengthwise/", "schemas imports nothing"},
	{"lengthwise/schemas", "github.com/", "schemas imports nothing"},
	{"lengthwise/stats", "lengthwise/schemas", "stats knows numbers, not swimming"},
	{"lengthwise/stats", "os", "stats does no I/O"},
	{"lengthwise/stats", "github.com/", "stats imports gonum and the standard library alone"},
	{"lengthwise/datasets", "lengthwise/stats", "the simulator is judged by stats, not made with it"},
	{"lengthwise/datasets", "lengthwise/schemas", "the simulator is the world outside"},
	{"lengthwise/pipeline", "github.com/spf13/cobra", "commands live in cmd"},
	{"lengthwise/pipeline/table", "lengthwise/pipeline", "table knows rows, not stages"},
	{"lengthwise/pipeline/cache", "lengthwise/", "cache knows files and bytes, not swimming"},
}

// viperRooms may import viper; nobody else may.
var viperRooms = []string{"lengthwise/pipeline/study", "lengthwise/cmd/lengthwise"}

func TestImportsFlowOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "lengthwise/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	packages := 0
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		names := strings.Fields(line)
		packages++
		importer, place := names[0], roomOf(names[0])
		if place < 0 {
			t.Errorf("%s is in no known room; add it to the order of flow", importer)
		}
		for _, imported := range names[1:] {
			if strings.HasPrefix(imported, "lengthwise/") && roomOf(imported) > place {
				t.Errorf("%s imports %s, which comes after it in the flow", importer, imported)
			}
			if imported == "github.com/spf13/viper" && !contains(viperRooms, importer) {
				t.Errorf("%s imports viper; typed structs are passed on instead", importer)
			}
			for _, f := range fences {
				if within(importer, f.room) && breaks(imported, f.banned) && !within(imported, f.room) {
					t.Errorf("%s imports %s: %s", importer, imported, f.why)
				}
			}
		}
	}
	if packages < 15 {
		t.Fatalf("only %d packages listed: the check saw too little", packages)
	}
}

func roomOf(importPath string) int {
	for i := len(rooms) - 1; i >= 0; i-- {
		if within(importPath, rooms[i]) {
			return i
		}
	}
	return -1
}

func within(importPath, room string) bool {
	return importPath == room || strings.HasPrefix(importPath, room+"/")
}

func breaks(imported, banned string) bool {
	return imported == banned || strings.HasSuffix(banned, "/") && strings.HasPrefix(imported, banned) || within(imported, banned)
}

func contains(list []string, s string) bool {
	for _, one := range list {
		if one == s {
			return true
		}
	}
	return false
}
