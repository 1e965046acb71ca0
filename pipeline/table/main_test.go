package table

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// crashEnv asks a copy of the test binary to write a result and die on the
// way: "target|step", where step is one of Commit's, or staging, or hold to
// wait with the lock until it is killed. A step that begins with renames: does
// without letting folders change places.
const crashEnv = "LENGTHWISE_TEST_CRASH"

func TestMain(m *testing.M) {
	if order := os.Getenv(crashEnv); order != "" {
		target, step, _ := strings.Cut(order, "|")
		if err := crash(target, step); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(3) // it was meant to die before
	}
	os.Exit(m.Run())
}

func crash(target, at string) error {
	s, err := Begin(target, "run.json")
	if err != nil {
		return err
	}
	if step, ok := strings.CutPrefix(at, "renames:"); ok {
		at, s.place.exchange = step, nil
	}
	if err := writeResult(s, "new"); err != nil {
		return err
	}
	if at == "hold" {
		fmt.Println("holding")
		select {}
	}
	if at == "staging" {
		die()
	}
	s.after = func(step string) {
		if step == at {
			die()
		}
	}
	return s.Commit()
}

// die kills the process as a power cut would: nothing deferred runs.
func die() {
	p, err := os.FindProcess(os.Getpid())
	if err == nil {
		err = p.Kill()
	}
	if err != nil {
		panic(err)
	}
	select {}
}

// writeResult fills a stage with a small result that can be told by its word.
func writeResult(s *Stage, word string) error {
	if err := s.WriteFile("tables/notes.txt", []byte(word)); err != nil {
		return err
	}
	return s.WriteFile("run.json", []byte(word))
}
