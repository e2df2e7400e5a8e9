package measure

import (
	"fmt"
	"slices"
)

// A run of rows that are zero to the last sample, between rows that are not, is no
// picture and no border: data is missing there, as a copy leaves it that was put
// together of parts.
const (
	gapRows  = 8   // rows of it from which it is told, and
	gapShare = 200 // at least so small a part of all (both our own)
)

// allZero reports whether a row is zero throughout; nearly all rows show that they are
// not by their first codes.
func allZero(row []uint16) bool {
	return len(row) > 0 && row[0] == 0 && !slices.ContainsFunc(row, func(v uint16) bool { return v != 0 })
}

// gapNote tells of the runs of zero rows that lie between others, "" where there is
// none worth a word. zero holds the stored rows that are zero, in any order; present is
// how many rows there are.
func gapNote(zero []int, present int) string {
	slices.Sort(zero)
	runs, rows, first := 0, 0, 0
	for i := 0; i < len(zero); {
		n := 1
		for i+n < len(zero) && zero[i+n] == zero[i]+n {
			n++
		}
		if from := zero[i]; from > 0 && from+n < present && n >= gapRows && n*gapShare >= present {
			if runs == 0 {
				first = from
			}
			runs++
			rows += n
		}
		i += n
	}
	switch runs {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("Rows %d to %d are exactly zero in all samples, between rows that are not: data is missing there; copy the file again from the source.", first, first+rows-1)
	}
	return fmt.Sprintf("%d rows in %d runs, the first from row %d on, are exactly zero in all samples, between rows that are not: data is missing there; copy the file again from the source.", rows, runs, first)
}
