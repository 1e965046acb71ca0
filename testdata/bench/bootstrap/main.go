// Command bootstrap is the Go half of the comparison of cluster bootstraps that
// testdata/bench/peers.sh makes: it writes invented sums by cluster and resamples
// them, reporting CPU seconds (user and system, all threads).
//
//	bootstrap make SWIMMERS SESSIONS FILE
//	bootstrap run FILE REPEATS    prints key=value lines
package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"syscall"

	"lengthwise/stats/resample"
)

const (
	replicates = 2000
	level      = 0.95
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	switch {
	case len(args) == 4 && args[0] == "make":
		swimmers, err1 := strconv.Atoi(args[1])
		sessions, err2 := strconv.Atoi(args[2])
		if err := errors.Join(err1, err2); err != nil {
			return err
		}
		return write(swimmers, sessions, args[3])
	case len(args) == 3 && args[0] == "run":
		repeats, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		return compare(args[1], repeats)
	}
	return fmt.Errorf("usage: bootstrap make SWIMMERS SESSIONS FILE | bootstrap run FILE REPEATS")
}

// write makes sums of squares and products about the session's means for 6 to 14
// bouts a session.
func write(swimmers, sessions int, path string) error {
	r := rand.New(rand.NewPCG(20261125, uint64(swimmers*sessions)))
	var b bytes.Buffer
	fmt.Fprintln(&b, "swimmer,xx,xy,yy")
	for s := range swimmers {
		slope := 0.5 + 0.3*r.NormFloat64()
		for range sessions {
			n := 6 + r.IntN(9)
			var x, y, xx, xy, yy float64
			for range n {
				u := r.NormFloat64()
				v := slope*u + r.NormFloat64()
				x, y, xx, xy, yy = x+u, y+v, xx+u*u, xy+u*v, yy+v*v
			}
			k := float64(n)
			fmt.Fprintf(&b, "%d,%.17g,%.17g,%.17g\n", s, xx-x*x/k, xy-x*y/k, yy-y*y/k)
		}
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}

type sums struct{ xx, xy, yy float64 }

func (s sums) correlation() float64 { return s.xy / math.Sqrt(s.xx*s.yy) }

// correlations gives that of each replicate.
func correlations(plan resample.Plan, clusters []sums) []float64 {
	weights := make([]float64, plan.Units())
	out := make([]float64, plan.Replicates())
	for b := range out {
		plan.Weights(b, weights)
		var s sums
		for i, w := range weights {
			s.xx += w * clusters[i].xx
			s.xy += w * clusters[i].xy
			s.yy += w * clusters[i].yy
		}
		out[b] = s.correlation()
	}
	return out
}

func compare(path string, repeats int) error {
	swimmer, sessions, err := read(path)
	if err != nil {
		return err
	}
	var whole sums
	squad := make([]sums, swimmer[len(swimmer)-1]+1)
	for i, s := range sessions {
		for _, to := range []*sums{&whole, &squad[swimmer[i]]} {
			to.xx, to.xy, to.yy = to.xx+s.xx, to.xy+s.xy, to.yy+s.yy
		}
	}
	estimate := whole.correlation()
	fmt.Printf("estimate=%.15g\n", estimate)

	one := func(clusters []sums) (percentile, bca resample.Interval, stdError float64, err error) {
		plan, err := resample.Clusters(len(clusters), replicates, 1)
		if err != nil {
			return percentile, bca, 0, err
		}
		values := correlations(plan, clusters)
		without := make([]float64, len(clusters))
		for i, c := range clusters {
			without[i] = sums{whole.xx - c.xx, whole.xy - c.xy, whole.yy - c.yy}.correlation()
		}
		percentile, err1 := resample.Percentile(values, level)
		bca, err2 := resample.BCa(estimate, values, without, level)
		stdError, err3 := resample.StdError(values)
		return percentile, bca, stdError, errors.Join(err1, err2, err3)
	}
	for _, c := range []struct {
		name     string
		clusters []sums
	}{{"swimmers", squad}, {"sessions", sessions}} {
		begin := cpu()
		for range repeats {
			plan, err := resample.Clusters(len(c.clusters), replicates, 1)
			if err != nil {
				return err
			}
			if _, err := resample.Percentile(correlations(plan, c.clusters), level); err != nil {
				return err
			}
		}
		fmt.Printf("%s=%.9g\n", c.name, (cpu()-begin)/float64(repeats))
		begin = cpu()
		for range repeats {
			if _, _, _, err := one(c.clusters); err != nil {
				return err
			}
		}
		fmt.Printf("%s_bca=%.9g\n", c.name, (cpu()-begin)/float64(repeats))
		percentile, bca, stdError, err := one(c.clusters)
		if err != nil {
			return err
		}
		fmt.Printf("%s_se=%.9g\n%s_low=%.9g\n%s_high=%.9g\n", c.name, stdError, c.name, percentile.Low, c.name, percentile.High)
		fmt.Printf("%s_bca_low=%.9g\n%s_bca_high=%.9g\n", c.name, bca.Low, c.name, bca.High)
	}

	var values []float64
	begin := cpu()
	for range repeats {
		plan, err := resample.GroupsThenWithin(swimmer, replicates, 1)
		if err != nil {
			return err
		}
		values = correlations(plan, sessions)
		if _, err := resample.Percentile(values, level); err != nil {
			return err
		}
	}
	fmt.Printf("levels=%.9g\n", (cpu()-begin)/float64(repeats))
	percentile, err1 := resample.Percentile(values, level)
	stdError, err2 := resample.StdError(values)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	fmt.Printf("levels_se=%.9g\nlevels_low=%.9g\nlevels_high=%.9g\n", stdError, percentile.Low, percentile.High)
	return nil
}

func cpu() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	seconds := func(t syscall.Timeval) float64 { return float64(t.Sec) + float64(t.Usec)/1e6 }
	return seconds(u.Utime) + seconds(u.Stime)
}

func read(path string) (swimmer []int, sessions []sums, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Scan() // header
	for lines.Scan() {
		var k int
		var s sums
		if _, err := fmt.Sscanf(lines.Text(), "%d,%g,%g,%g", &k, &s.xx, &s.xy, &s.yy); err != nil {
			return nil, nil, fmt.Errorf("%s, row %d: %w", path, len(sessions)+2, err)
		}
		swimmer, sessions = append(swimmer, k), append(sessions, s)
	}
	if len(sessions) == 0 {
		return nil, nil, fmt.Errorf("%s: no rows", path)
	}
	return swimmer, sessions, lines.Err()
}
