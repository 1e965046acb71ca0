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
	draw  func(r *rand.Rand, swimmers, sessions int) ([]float64, error)
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

    STATS_COVERAGE=2000 go test ./stats -run TestCoverage -timeout 4h

and checked by the same test without the variable: bounds on the rows kept here, and
a few sets drawn anew against some of them.
`

// TestCoverage writes the table when STATS_COVERAGE gives a number of sets.
// Otherwise it reads the kept one. From a study's fewest sessions on, every share of
// 20 to 40 swimmers must be 0.93 to 0.97 but for the exceptions, which the doc
// comments name; and 100 sets of one cell drawn anew must agree with its row within
// four standard errors.
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
		for _, swimmers := range coverageSwimmers {
			for _, sessions := range coverageSessions {
				if !slices.ContainsFunc(cells, func(c cell) bool {
					return c.swimmers == swimmers && c.sessions == sessions && len(c.shares) == len(s.names)
				}) {
					t.Errorf("%s: no row of %d swimmers with %d sessions", s.title, swimmers, sessions)
				}
			}
		}
		for _, c := range cells {
			for k, share := range c.shares {
				from, known := coverageFrom[s.names[k]]
				if !known {
					t.Fatalf("%s: nothing says from how many sessions %q holds", s.title, s.names[k])
				}
				if c.sessions >= from && (share < 0.93 || share > 0.97) {
					t.Errorf("%s: %s of %d swimmers with %d sessions covers %.3f, want 0.93 to 0.97", s.title, s.names[k], c.swimmers, c.sessions, share)
				}
			}
		}
		if testing.Short() || len(cells) == 0 {
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

var (
	coverageSwimmers = []int{20, 30, 40}
	coverageSessions = []int{2, 3, 4, 6, 8, 12}
)

func writeCoverage(t *testing.T, sets int) {
	var b strings.Builder
	b.WriteString(coverageHead)
	for _, s := range studies() {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n| swimmers | sessions | sets | %s |\n|%s\n", s.title, s.about,
			strings.Join(s.names, " | "), strings.Repeat("---:|", 3+len(s.names)))
		for _, swimmers := range coverageSwimmers {
			for _, sessions := range coverageSessions {
				c, err := s.run(swimmers, sessions, sets)
				if err != nil {
					t.Fatal(err)
				}
				b.WriteString(c.row() + "\n")
				t.Logf("%s: %s", s.title, c.row())
			}
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
