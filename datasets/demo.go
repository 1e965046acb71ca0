package datasets

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"
	_ "time/tzdata" // the demo's time zone, on systems without a zone database

	"lengthwise/datasets/squad"
)

// demoSeed fixes the demo squad. It was set before the squad was looked at.
const demoSeed = 20261125

// demoZone is where the demo club swims; its clocks change within the season.
const demoZone = "Europe/Lisbon"

// ErrDemoFolder marks a folder that WriteDemo will not write into.
var ErrDemoFolder = errors.New("the demo needs a new or empty folder")

// DemoScenario is the scenario of the demo squad.
func DemoScenario() (squad.Scenario, error) {
	zone, err := time.LoadLocation(demoZone)
	if err != nil {
		return squad.Scenario{}, fmt.Errorf("datasets: time zone of the demo: %w", err)
	}
	sc := squad.Demo(demoSeed)
	sc.Zone = zone
	sc.Change.On = time.Date(2026, 3, 2, 0, 0, 0, 0, zone)
	return sc, sc.Check()
}

// WriteDemo writes the demo squad's study folder: study.yaml, roster, assign and
// notes files, inbox, sheets and pulse, and truth.json with what is true of every
// swimmer. The bytes are the same on every call. dir is made if it is missing and
// must be empty otherwise ([ErrDemoFolder]); where writing fails half-way, what
// was written is left for inspection.
func WriteDemo(dir string) error {
	sc, err := DemoScenario()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("datasets: demo folder: %w", err)
	}
	if list, err := os.ReadDir(dir); err != nil {
		return fmt.Errorf("datasets: demo folder: %w", err)
	} else if len(list) > 0 {
		return fmt.Errorf("datasets: %s holds %q: %w", dir, list[0].Name(), ErrDemoFolder)
	}

	parts := castOf(sc.Swimmers)
	leaves := make([]leaving, len(parts))
	errs := make([]error, len(parts))
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range parts {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			leaves[i], errs[i] = record(dir, sc, i, parts[i])
		})
	}
	wg.Wait()
	if err := errors.Join(errs...); err != nil {
		return err
	}
	return errors.Join(writeSheets(dir, leaves), writeLists(dir, leaves), writeTruth(dir, sc, leaves))
}

// writeFile writes one file of the demo, making its folder.
func writeFile(dir, name string, content []byte) error {
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("datasets: demo: %w", err)
	}
	if err := os.WriteFile(path, content, 0o644); err != nil {
		return fmt.Errorf("datasets: demo: %w", err)
	}
	return nil
}
