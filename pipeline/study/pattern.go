package study

import (
	"fmt"
	"path"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// swimmerMark is where a pattern holds the swimmer's name.
const swimmerMark = "{swimmer}"

// Match reports whether a slash-separated path, relative to the study's
// folder, fits the input's pattern, and what stood at {swimmer}.
//
// * stands for any run of characters and ? for one, both within one path
// element; {swimmer} stands for the shortest run of at least one that lets the
// rest fit, so {swimmer}_*.fit takes "ana" from ana_2026_03.fit. Letter case is
// ignored, and accented letters match however the file system composes them.
func (in Input) Match(rel string) (swimmer string, ok bool) { return matchPath(in.Pattern, rel) }

// MatchPath reports whether a path fits a pattern with * and ? as in inputs.
func MatchPath(pattern, rel string) bool {
	_, ok := matchPath(pattern, rel)
	return ok
}

func matchPath(pattern, rel string) (swimmer string, ok bool) {
	patterns := strings.Split(cleanPath(pattern), "/")
	elements := strings.Split(cleanPath(rel), "/")
	if len(patterns) != len(elements) {
		return "", false
	}
	for i := range patterns {
		before, after, marked := strings.Cut(patterns[i], swimmerMark)
		if !marked {
			if !matchElement(patterns[i], elements[i]) {
				return "", false
			}
			continue
		}
		name, fits := matchMarked(before, after, elements[i])
		if !fits {
			return "", false
		}
		swimmer = name
	}
	return swimmer, true
}

// cleanPath composes accents and drops "./", doubled and closing slashes.
func cleanPath(p string) string { return path.Clean(norm.NFC.String(p)) }

// matchMarked fits before + name + after, with the earliest and then shortest
// name.
func matchMarked(before, after, element string) (name string, ok bool) {
	for start := 0; start < len(element); start = next(element, start) {
		if !matchElement(before, element[:start]) {
			continue
		}
		for end := next(element, start); end <= len(element); end = next(element, end) {
			if matchElement(after, element[end:]) {
				return element[start:end], true
			}
			if end == len(element) {
				break
			}
		}
	}
	return "", false
}

// next is the offset after the character at offset i.
func next(s string, i int) int {
	_, width := utf8.DecodeRuneInString(s[i:])
	return i + max(width, 1)
}

// matchElement matches one path element, going back to the last * only: that
// is enough for globs and never worse than the product of the lengths.
func matchElement(pattern, name string) bool {
	p, n := 0, 0
	star, resume := -1, 0
	for n < len(name) {
		if p < len(pattern) && pattern[p] == '*' {
			star, resume = p, n
			p++
			continue
		}
		if p < len(pattern) {
			want, wide := utf8.DecodeRuneInString(pattern[p:])
			got, width := utf8.DecodeRuneInString(name[n:])
			if want == '?' || sameLetter(want, got) {
				p, n = p+wide, n+width
				continue
			}
		}
		if star < 0 {
			return false
		}
		resume = next(name, resume)
		p, n = star+1, resume
	}
	return strings.Trim(pattern[p:], "*") == ""
}

// sameLetter ignores case by simple folding.
func sameLetter(a, b rune) bool {
	if a == b {
		return true
	}
	for r := unicode.SimpleFold(a); r != a; r = unicode.SimpleFold(r) {
		if r == b {
			return true
		}
	}
	return false
}

// checkPattern says what is wrong with an input's path, nil when nothing is.
func checkPattern(pattern string) error {
	switch {
	case strings.Contains(pattern, "\\"):
		return fmt.Errorf("write paths with / on every system")
	case path.IsAbs(pattern) || (len(pattern) > 1 && pattern[1] == ':'):
		return fmt.Errorf("paths start at the study file's folder: write it without a leading / or drive")
	case strings.Contains(pattern, "**"):
		return fmt.Errorf("* stays within one folder: write one input for each depth, such as inbox/*/*.fit")
	}
	for _, element := range strings.Split(pattern, "/") {
		if element == ".." {
			return fmt.Errorf("files outside the study file's folder are not read: the path holds ..; take it out")
		}
	}
	if strings.Count(pattern, swimmerMark) > 1 {
		return fmt.Errorf("{swimmer} may stand once in a path")
	}
	if rest := strings.Replace(pattern, swimmerMark, "", 1); strings.ContainsAny(rest, "{}") {
		return fmt.Errorf("the only name in braces is {swimmer}")
	}
	if path.Clean(pattern) == "." {
		return fmt.Errorf("names no file: write for example inbox/{swimmer}/*.fit")
	}
	return nil
}
