package main

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// noRoster is what is said of a study without a roster.
const noRoster = "NO ROSTER: everybody in the files is used, and nobody's consent is on record. Write a roster (in the study file, " +
	"roster: roster.csv) with a yes in its column consent for each who agreed, for minors whose guardians did; then nobody else is used."

// consentLines says whose consent is on record and whose is waited for.
func consentLines(a run.Attention) []string {
	if a.Roster == "" {
		return []string{noRoster}
	}
	var lines []string
	if !a.ConsentColumn {
		line := fmt.Sprintf("%s has no column consent, so that nobody in it is used.", a.Roster)
		for _, column := range a.RosterColumns {
			if column.Nearest == "consent" {
				line += fmt.Sprintf(" Its header %q is not read as one: write consent.", column.Header)
			}
		}
		lines = append(lines, line)
	}
	if len(a.Waiting) > 0 {
		lines = append(lines, fmt.Sprintf("Waiting for consent (yes in %s, column consent): %s", a.Roster, strings.Join(a.Waiting, ", ")))
	}
	return lines
}

// declinedLines says who answered no.
func declinedLines(a run.Attention) []string {
	if len(a.Declined) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Answered no, and left out: %s", strings.Join(a.Declined, ", "))}
}

// unknownLines says which names and files the study's lists do not fit.
func unknownLines(s *study.Study, a run.Attention) []string {
	var lines []string
	for _, column := range a.RosterColumns {
		lines = append(lines, fmt.Sprintf("%s: the header %q is none of its columns%s", a.Roster, column.Header, nearest(nonEmpty(column.Nearest))))
	}
	for _, u := range a.Unknown {
		lines = append(lines, fmt.Sprintf("%s: %q is not in the roster%s", u.File, u.Name, nearest(u.Nearest)))
	}
	for _, f := range a.NoFile {
		if f.Unclaimed {
			lines = append(lines, fmt.Sprintf("%s: no input's path fits %s, so that it is not read", s.Assign, f.File))
			continue
		}
		lines = append(lines, fmt.Sprintf("%s: there is no file %s%s", s.Assign, f.File, nearest(f.Nearest)))
	}
	return lines
}

func nonEmpty(word string) []string {
	if word == "" {
		return nil
	}
	return []string{word}
}

// The most files whose reasons are shown, and the most files named of which
// the ledger says the same.
const (
	mostReasons = 20
	mostAlike   = 3
)

// reasonLines says file by file what the ledger holds and why: first the files
// of which nothing is used. Without all only the first files are shown.
func reasonLines(a run.Attention, all bool, width int) []string {
	var lines []string
	for i, f := range a.Files {
		if i == mostReasons && !all {
			lines = append(lines, fmt.Sprintf("  ... and %d more like these; \"lengthwise check --all\" shows them", len(a.Files)-mostReasons))
			break
		}
		lines = append(lines, fileLines(f, all, width)...)
	}
	return lines
}

func fileLines(f run.FileLedger, all bool, width int) []string {
	names := slices.Clone(f.Files)
	if more := len(names) - mostAlike; more > 0 && !all {
		names = append(names[:mostAlike], fmt.Sprintf("and %d more", more))
	}
	head := strings.Join(names, ", ")
	if !f.Used {
		head += " (nothing used)"
	}
	lines := wrap(head+":", width, "  ", "  ")
	for _, rule := range f.Rules {
		details := rule.Details
		if rule.More > 0 {
			details = append(slices.Clone(details), fmt.Sprintf("... and %s like these", count(rule.More, "more reason")))
		}
		head := fmt.Sprintf("%s %d", rule.Rule, rule.Records)
		if rule.Action != "excluded" {
			head += " " + rule.Action
		}
		if len(details) == 0 {
			lines = append(lines, wrap(head, width, "    ", "      ")...)
			continue
		}
		lines = append(lines, wrap(head+": "+details[0], width, "    ", "      ")...)
		for _, detail := range details[1:] {
			lines = append(lines, wrap(detail, width, "      ", "        ")...)
		}
	}
	return lines
}

// wrap breaks text between words into lines of at most width signs, where its
// words allow; first stands before the first line, rest before the others.
func wrap(text string, width int, first, rest string) []string {
	var lines []string
	line, empty := first, true
	for word := range strings.SplitSeq(text, " ") {
		if !empty && len([]rune(line))+1+len([]rune(word)) > width {
			lines = append(lines, strings.TrimRight(line, " "))
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	return append(lines, strings.TrimRight(line, " "))
}
