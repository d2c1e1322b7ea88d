package document

import "strings"

// Nearest gives the known word closest to word, and whether it is close
// enough to be what was meant: at most one letter in three added, left out,
// changed or swapped with its neighbour, case aside. Of words equally close
// the first in known is given.
func Nearest(word string, known []string) (string, bool) {
	a := []rune(strings.ToLower(word))
	if len(a) > maxNearRunes {
		return "", false
	}
	best, near := -1, ""
	for _, k := range known {
		b := []rune(strings.ToLower(k))
		if len(b) > maxNearRunes {
			continue
		}
		if d := edits(a, b); best < 0 || d < best {
			best, near = d, k
		}
	}
	return near, best >= 0 && 3*best <= max(len(a), len([]rune(near)))
}

// maxNearRunes bounds the work: no word of a document's shape is longer.
const maxNearRunes = 60

// edits counts the letters to add, leave out, change or swap with a neighbour
// to make b of a (the optimal string alignment distance).
func edits(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		before, last, row = last, row, before
		row[0] = i
		for j := 1; j <= len(b); j++ {
			same := 1
			if a[i-1] == b[j-1] {
				same = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+same)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
	}
	return row[len(b)]
}
