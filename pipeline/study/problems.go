package study

import (
	"fmt"
	"sort"
	"strings"
)

// Problem is one thing wrong in a study file.
type Problem struct {
	Line int    // from 1; 0 for the file as a whole
	Key  string // dotted path of the setting, such as analysis.strokes; "" when none
	Text string // what is wrong and what to write instead
}

// Problems is everything wrong in a study file, by line. It is an error.
type Problems struct {
	File string // as the caller named it
	List []Problem
}

// Error gives one line a problem: file, line, setting, what to do.
func (p *Problems) Error() string {
	lines := make([]string, len(p.List))
	for i, one := range p.List {
		where := p.File
		if one.Line > 0 {
			where = fmt.Sprintf("%s:%d", p.File, one.Line)
		}
		if one.Key != "" {
			where += ": " + one.Key
		}
		lines[i] = where + ": " + one.Text
	}
	return strings.Join(lines, "\n")
}

// add appends a problem.
func (p *Problems) add(line int, key, format string, args ...any) {
	p.List = append(p.List, Problem{Line: line, Key: key, Text: fmt.Sprintf(format, args...)})
}

// orNil is the error to return: nil when nothing is wrong.
func (p *Problems) orNil() error {
	if len(p.List) == 0 {
		return nil
	}
	sort.SliceStable(p.List, func(i, j int) bool { return p.List[i].Line < p.List[j].Line })
	return p
}
