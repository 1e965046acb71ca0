package study

import (
	"sort"
	"strings"
)

// Nearest returns at most n of the words closest to word, closest first and
// equally close ones in alphabetical order. Closeness is the number of
// letters to insert, drop, change or swap with a neighbour (Damerau's
// distance, each stretch edited once), letter case aside. Words that differ in
// more than half of their letters are left out.
func Nearest(word string, among []string, n int) []string {
	type candidate struct {
		word     string
		distance int
	}
	target := []rune(strings.ToLower(word))
	var near []candidate
	for _, other := range among {
		letters := []rune(strings.ToLower(other))
		d := editDistance(target, letters)
		if 2*d <= max(len(target), len(letters)) {
			near = append(near, candidate{other, d})
		}
	}
	sort.SliceStable(near, func(i, j int) bool {
		if near[i].distance != near[j].distance {
			return near[i].distance < near[j].distance
		}
		return near[i].word < near[j].word
	})
	words := make([]string, 0, min(n, len(near)))
	for _, c := range near {
		if len(words) == n {
			break
		}
		words = append(words, c.word)
	}
	return words
}

// editDistance counts the edits from a to b, with three rows of the usual
// table.
func editDistance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := last[j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			row[j] = min(change, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// hint is the tail of a sentence about an unknown word: the nearest known
// one, or the whole list when nothing is near.
func hint(word string, known []string) string {
	if near := Nearest(word, known, 1); len(near) > 0 {
		return "did you mean " + near[0] + "?"
	}
	return "known: " + strings.Join(known, ", ")
}
