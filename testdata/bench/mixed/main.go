// Command mixed is the Go half of the comparison that testdata/bench/peers.sh
// makes: it writes invented rows and fits them, reporting CPU seconds (user and
// system, all threads).
//
//	mixed make ROWS FILE
//	mixed fit FILE REPEATS    prints key=value lines
package main

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"syscall"

	"lengthwise/stats/mixed"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	switch {
	case len(args) == 3 && args[0] == "make":
		rows, err := strconv.Atoi(args[1])
		if err != nil {
			return err
		}
		return write(rows, args[2])
	case len(args) == 3 && args[0] == "fit":
		repeats, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		return fit(args[1], repeats)
	}
	return fmt.Errorf("usage: mixed make ROWS FILE | mixed fit FILE REPEATS")
}

// write makes rows of y = 130 + 4 x1 - 2 x2 + 1.5 x2^2 with intercept and both
// slopes varying by unit, and an intercept by group: 20 groups a unit, 15 to 35
// rows a group.
func write(rows int, path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriter(f)
	r := rand.New(rand.NewPCG(20261125, uint64(rows)))
	fmt.Fprintln(w, "unit,group,x1,x2,y")
	written := 0
	for u := 0; written < rows; u++ {
		a := r.NormFloat64()
		b := 0.3*a + 0.95*r.NormFloat64()
		c := -0.4*a + 0.9*r.NormFloat64()
		for g := 0; g < 20 && written < rows; g++ {
			session := 3 * r.NormFloat64()
			drift := 0.4 * r.NormFloat64()
			for n := 15 + r.IntN(21); n > 0 && written < rows; n-- {
				x1, x2 := drift+r.NormFloat64(), 0.8*r.NormFloat64()
				y := 130 + 8*a + (4+3*b)*x1 + (-2+2.5*c)*x2 + 1.5*x2*x2 + session + 4*r.NormFloat64()
				fmt.Fprintf(w, "u%05d,g%02d,%.9g,%.9g,%.9g\n", u, g, x1, x2, y)
				written++
			}
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

var layout = mixed.Layout{
	Fixed:          []string{"1", "x1", "x2", "x2^2"},
	Random:         []string{"1", "x1", "x2"},
	GroupIntercept: true,
}

func cpu() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	seconds := func(t syscall.Timeval) float64 { return float64(t.Sec) + float64(t.Usec)/1e6 }
	return seconds(u.Utime) + seconds(u.Stime)
}

func fit(path string, repeats int) error {
	// From the file to printed estimates.
	begin := cpu()
	var text string
	for range repeats {
		s, err := mixed.NewSums(layout)
		if err != nil {
			return err
		}
		row := make([]float64, 4)
		err = scan(path, func(unit, group string, x1, x2, y float64) error {
			row[0], row[1], row[2], row[3] = 1, x1, x2, x2*x2
			return s.Add(unit, group, row, y)
		})
		if err != nil {
			return err
		}
		if text, err = estimates(s); err != nil {
			return err
		}
	}
	fmt.Fprint(os.Stderr, text)
	fmt.Printf("csv=%.9g\n", (cpu()-begin)/float64(repeats))

	// From columns in memory.
	var units, groups []string
	columns := make([][]float64, 4)
	var y []float64
	err := scan(path, func(unit, group string, x1, x2, response float64) error {
		units, groups, y = append(units, unit), append(groups, group), append(y, response)
		for j, v := range [...]float64{1, x1, x2, x2 * x2} {
			columns[j] = append(columns[j], v)
		}
		return nil
	})
	if err != nil {
		return err
	}
	var m *mixed.Model
	begin = cpu()
	for range repeats {
		s, err := mixed.NewSums(layout)
		if err != nil {
			return err
		}
		if err := s.AddColumns(units, groups, columns, y); err != nil {
			return err
		}
		if m, err = mixed.Fit(s, mixed.Options{}); err != nil {
			return err
		}
		if _, err = m.Coefficients(mixed.Satterthwaite, 0.95); err != nil {
			return err
		}
	}
	fmt.Printf("memory=%.9g\n", (cpu()-begin)/float64(repeats))
	fmt.Printf("criterion=%.12f\nrows=%d\n", m.Criterion, m.Rows)
	c, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		return err
	}
	for i, v := range c {
		fmt.Printf("estimate%d=%.12g\nse%d=%.12g\ndf%d=%.9g\n", i, v.Estimate, i, v.StdError, i, v.DF)
	}
	return nil
}

func estimates(s *mixed.Sums) (string, error) {
	m, err := mixed.Fit(s, mixed.Options{})
	if err != nil {
		return "", err
	}
	rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	for _, c := range rows {
		fmt.Fprintf(&b, "%-5s %12.6f %10.6f %10.3f %9.3f %.3g\n", c.Term, c.Estimate, c.StdError, c.DF, c.Statistic, c.PValue)
	}
	return b.String(), nil
}

// scan reads the rows of a file made by write; labels are interned.
func scan(path string, f func(unit, group string, x1, x2, y float64) error) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	labels := map[string]string{}
	intern := func(b []byte) string {
		if s, ok := labels[string(b)]; ok {
			return s
		}
		s := string(b)
		labels[s] = s
		return s
	}
	lines.Scan() // header
	for n := 2; lines.Scan(); n++ {
		rest := lines.Bytes()
		field := func() []byte {
			b, after, _ := bytes.Cut(rest, []byte{','})
			rest = after
			return b
		}
		unit, group := intern(field()), intern(field())
		var v [3]float64
		for j := range v {
			if v[j], err = strconv.ParseFloat(string(field()), 64); err != nil {
				return fmt.Errorf("%s, row %d: %w", path, n, err)
			}
		}
		if err := f(unit, group, v[0], v[1], v[2]); err != nil {
			return err
		}
	}
	return lines.Err()
}
