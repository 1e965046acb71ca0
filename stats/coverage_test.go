package stats_test

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// coverageFile holds the share of simulated sets in which nominal 95 % intervals
// held the truth. Its first lines say how it is made.
const coverageFile = "testdata/coverage.md"

// A study is a kind of simulated set: draw makes one and says of each of the names
// whether its interval held the truth. Names that count several intervals of a set
// (one per swimmer) give their share.
type study struct {
	title string
	about string
	names []string
	sizes []size
	draw  func(r *rand.Rand, swimmers, sessions int) ([]float64, error)
}

// size is a number of swimmers and of sessions each.
type size struct{ swimmers, sessions int }

// sizesOf pairs numbers of swimmers with numbers of sessions.
func sizesOf(swimmers, sessions []int) []size {
	var out []size
	for _, n := range swimmers {
		for _, m := range sessions {
			out = append(out, size{n, m})
		}
	}
	return out
}

// cell is one row of a study's table: the shares, in the order of names.
type cell struct {
	swimmers, sessions, sets int
	shares                   []float64
}

// run simulates the sets of a cell. Set i depends on the seed and i alone.
func (s study) run(swimmers, sessions, sets int) (cell, error) {
	out := cell{swimmers, sessions, sets, make([]float64, len(s.names))}
	type result struct {
		held []float64
		err  error
	}
	results := make([]result, sets)
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				r := rand.New(rand.NewPCG(uint64(1000*swimmers+sessions), uint64(i)))
				held, err := s.draw(r, swimmers, sessions)
				results[i] = result{held, err}
			}
		}()
	}
	for i := range sets {
		next <- i
	}
	close(next)
	wait.Wait()
	for i, one := range results {
		if one.err != nil {
			return out, fmt.Errorf("set %d: %w", i, one.err)
		}
		for k, h := range one.held {
			out.shares[k] += h / float64(sets)
		}
	}
	return out, nil
}

func (c cell) row() string {
	var b strings.Builder
	fmt.Fprintf(&b, "| %d | %d | %d |", c.swimmers, c.sessions, c.sets)
	for _, s := range c.shares {
		fmt.Fprintf(&b, " %.3f |", s)
	}
	return b.String()
}

const coverageHead = `# Coverage of 95 % intervals

Share of simulated sets in which the interval held the truth, one row for each number
of swimmers and of sessions a swimmer. The standard error of a share is
sqrt(0.95 * 0.05 / sets), 0.005 for 2,000 sets, less where every swimmer of a set
counts. Made by

    STATS_COVERAGE=2000 go test ./stats -run TestCoverage -timeout 5h

and checked by the same test without the variable: bounds on the rows kept here, and
a few sets drawn anew against some of them.
`

// TestCoverage writes the table when STATS_COVERAGE gives a number of sets.
// Otherwise it reads the kept one. Every share must be 0.93 to 0.97 from the sessions
// on that coverageFrom names, as the doc comments do; and a few sets of one cell drawn
// anew must agree with its row within four standard errors.
func TestCoverage(t *testing.T) {
	if v := os.Getenv("STATS_COVERAGE"); v != "" {
		sets, err := strconv.Atoi(v)
		if err != nil {
			t.Fatal(err)
		}
		writeCoverage(t, sets)
	}
	kept := readCoverage(t)
	for _, s := range studies() {
		cells := kept[s.title]
		if len(cells) != len(s.sizes) {
			t.Fatalf("%s: %d rows, want %d", s.title, len(cells), len(s.sizes))
		}
		for i, c := range cells {
			if (size{c.swimmers, c.sessions}) != s.sizes[i] || len(c.shares) != len(s.names) || c.sets < 2000 {
				t.Fatalf("%s: row %d is %+v, want %+v of 2,000 sets", s.title, i, c, s.sizes[i])
			}
			if c.swimmers < 20 {
				continue // for the record
			}
			for k, share := range c.shares {
				from, known := coverageFrom[s.names[k]]
				if !known {
					t.Fatalf("%s: nothing says from how many sessions %q holds", s.title, s.names[k])
				}
				low := 0.93
				if s.names[k] == "correlation" {
					low = 0.92 // see Model.Profile
				}
				if c.sessions >= from && (share < low || share > 0.97) {
					t.Errorf("%s: %s of %d swimmers with %d sessions covers %.3f, want %.2f to 0.97", s.title, s.names[k], c.swimmers, c.sessions, share, low)
				}
			}
		}
		if testing.Short() {
			continue
		}
		want := cells[slices.IndexFunc(cells, func(c cell) bool { return c.swimmers == 20 && c.sessions == 6 })]
		const sets = 60
		got, err := s.run(want.swimmers, want.sessions, sets)
		if err != nil {
			t.Fatal(err)
		}
		for k, share := range got.shares {
			p := want.shares[k]
			slack := 4 * math.Sqrt(p*(1-p)*(1./sets+1/float64(want.sets)))
			if math.Abs(share-p) > slack {
				t.Errorf("%s: %s covers %.3f in %d sets, the table has %.3f", s.title, s.names[k], share, sets, p)
			}
		}
	}
}

func writeCoverage(t *testing.T, sets int) {
	var b strings.Builder
	b.WriteString(coverageHead)
	for _, s := range studies() {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n| swimmers | sessions | sets | %s |\n|%s\n", s.title, s.about,
			strings.Join(s.names, " | "), strings.Repeat("---:|", 3+len(s.names)))
		for _, at := range s.sizes {
			c, err := s.run(at.swimmers, at.sessions, sets)
			if err != nil {
				t.Fatal(err)
			}
			b.WriteString(c.row() + "\n")
			t.Logf("%s: %s", s.title, c.row())
		}
	}
	if err := os.WriteFile(coverageFile, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// readCoverage gives the rows of the kept file by title.
func readCoverage(t *testing.T) map[string][]cell {
	t.Helper()
	file, err := os.Open(coverageFile)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	out := map[string][]cell{}
	title := ""
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		line := lines.Text()
		if after, ok := strings.CutPrefix(line, "## "); ok {
			title = after
		}
		fields := strings.Split(strings.Trim(line, "| "), " | ")
		var c cell
		if len(fields) < 4 {
			continue
		}
		if _, err := fmt.Sscan(fields[0]+" "+fields[1]+" "+fields[2], &c.swimmers, &c.sessions, &c.sets); err != nil {
			continue // a heading
		}
		for _, f := range fields[3:] {
			share, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatalf("%s: %q: %v", coverageFile, line, err)
			}
			c.shares = append(c.shares, share)
		}
		out[title] = append(out[title], c)
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}
