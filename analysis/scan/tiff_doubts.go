package scan

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
)

// What makes a TIFF doubtful although it can be read. The thresholds are our own.
const (
	tailLeast  = 4 << 10  // bytes of zeros at the end from which a copy counts as not finished
	tailMost   = 64 << 20 // bytes of zeros that are looked at
	diskBlock  = 512      // bytes: copies stop at a multiple of it
	zeroRows   = 8        // rows of zeros at the end from which they are told, and
	zeroShare  = 100      // at least so small a part of all
	longFactor = 2        // how much longer than its rows need a strip may be, and
	longSlack  = 4 << 10  // bytes besides
)

// doubts returns a sentence for each thing about the chunks that a file of that size
// should not have. Where it ends in the zeros of a copy that was not finished, it
// takes its end to be there.
func (l *tiffLayout) doubts(f io.ReaderAt, size int64) (notes []string) {
	for _, note := range []string{l.missingCounts(), l.longChunks(), l.overlaps(), l.zeroTail(f, size), l.zeroRows(f, size)} {
		if note != "" {
			notes = append(notes, note)
		}
	}
	return notes
}

// chunkRow returns the first row of a chunk.
func (l *tiffLayout) chunkRow(chunk int) int {
	return chunk % (l.across * l.down) / l.across * l.chunkH
}

// length returns the bytes of the file that belong to a chunk.
func (l *tiffLayout) length(chunk int) int64 {
	need := int64(l.rowBytes()) * int64(l.chunkH)
	if l.strips {
		need = int64(l.rowBytes()) * int64(min(l.chunkH, l.h-l.chunkRow(chunk)))
	}
	n := int64(l.counts[chunk])
	if l.pack == packNone && (n == 0 || n > need) {
		return need
	}
	return n
}

// missingCounts tells of a directory without StripByteCounts, which TIFF 6.0 requires
// (page 40): a writer of long ago, or a tag that damage has made another one.
func (l *tiffLayout) missingCounts() string {
	if !l.uncounted {
		return ""
	}
	return "The file does not say how long its strips or tiles are, as a TIFF must: an early writer, or damage to its directory. They were read as far as their rows go."
}

func (l *tiffLayout) longChunks() string {
	most := longFactor*int64(l.rowBytes())*int64(l.chunkH) + longSlack
	for i, n := range l.counts[:l.across*l.down*l.planes()] {
		if int64(n) > most {
			return fmt.Sprintf("The strip or tile at row %d is %s long where its rows need %s: it was read as far as they go.",
				l.chunkRow(i), byteSize(int64(n)), byteSize(int64(l.rowBytes())*int64(l.chunkH)))
		}
	}
	return ""
}

func (l *tiffLayout) overlaps() string {
	n := l.across * l.down * l.planes()
	at := func(i int) int64 { return int64(min(l.offsets[i], math.MaxInt64/2)) }
	order := make([]int, 0, n)
	sorted := true
	for i := range n {
		if l.length(i) == 0 {
			continue
		}
		if k := len(order); k > 0 && at(i) < at(order[k-1]) {
			sorted = false
		}
		order = append(order, i)
	}
	if !sorted {
		slices.SortFunc(order, func(a, b int) int {
			if d := at(a) - at(b); d != 0 {
				return int(max(-1, min(1, d)))
			}
			return a - b
		})
	}
	for k := 1; k < len(order); k++ {
		a, b := order[k-1], order[k]
		if at(b) < at(a)+l.length(a) {
			return fmt.Sprintf("The file has the strip or tile at row %d on the same bytes as another one: at most one of them is the picture's.", l.chunkRow(max(a, b)))
		}
	}
	return ""
}

// zeroTail looks for the zeros at the end of a copy whose room was taken beforehand
// and that was not finished. They begin where a block of the disk begins, which
// compressed data has no reason to do; of uncompressed data, in the middle of a row
// whose neighbour above goes on. l.end is then where they begin.
func (l *tiffLayout) zeroTail(f io.ReaderAt, size int64) string {
	last, end := -1, int64(0)
	for i := range l.across * l.down * l.planes() {
		at := int64(min(l.offsets[i], uint64(size)))
		if e := min(at+l.length(i), size); e > end {
			last, end = i, e
		}
	}
	from := zerosBefore(f, end)
	block := (from + diskBlock - 1) / diskBlock * diskBlock
	if last < 0 || end-from < tailLeast || block-from >= 8 {
		return ""
	}
	if l.pack == packNone && !l.breaksOff(f, from) {
		return ""
	}
	l.end = from
	return fmt.Sprintf("From byte %d on the file holds nothing but zeros, as a copy that was not finished does: what lies there is not measured.", from)
}

// zerosBefore returns where the zeros begin that a file has before end.
func zerosBefore(f io.ReaderAt, end int64) int64 {
	buf := make([]byte, 64<<10)
	from := end
	for from > 0 && end-from < tailMost {
		b := buf[:min(int64(len(buf)), from)]
		if readFull(f, b, from-int64(len(b))) != nil {
			return from
		}
		rest := bytes.TrimRight(b, "\x00")
		from -= int64(len(b) - len(rest))
		if len(rest) > 0 {
			break
		}
	}
	return from
}

// breaksOff reports whether the zeros of uncompressed data begin within a row while
// the row above it goes on to its end.
func (l *tiffLayout) breaksOff(f io.ReaderAt, from int64) bool {
	row := int64(l.rowBytes())
	for i := range l.across * l.down * l.planes() {
		at := int64(min(l.offsets[i], math.MaxInt64/2))
		if from < at || from >= at+l.length(i) {
			continue
		}
		column := (from - at) % row
		above := from - column - row
		if above < at { // the last row of the chunk above
			if i%(l.across*l.down) < l.across {
				return false
			}
			above = int64(min(l.offsets[i-l.across], math.MaxInt64/2)) + row*int64(l.chunkH-1)
		}
		// The picture's own part of a tile's row.
		x := i % l.across * l.chunkW
		width := int64(min(l.chunkW, l.w-x)) * row / int64(l.chunkW)
		tail := make([]byte, max(0, width-column)/4)
		return column > 0 && len(tail) > 0 && readFull(f, tail, above+width-int64(len(tail))) == nil && len(bytes.Trim(tail, "\x00")) > 0
	}
	return false
}

// zeroRows tells of rows at the lower end of uncompressed data that are exactly zero.
func (l *tiffLayout) zeroRows(f io.ReaderAt, size int64) string {
	if l.pack != packNone || l.end > 0 {
		return ""
	}
	row := int64(l.rowBytes())
	buf := make([]byte, row)
	n := 0
	for y := l.h - 1; y >= 0 && int64(n+1)*row*int64(l.across*l.planes()) <= tailMost; y-- {
		for plane := range l.planes() {
			for cx := range l.across {
				i := l.chunk(plane, cx, y)
				at := int64(min(l.offsets[i], uint64(size))) + row*int64(y%l.chunkH)
				if readFull(f, buf, at) != nil || len(bytes.Trim(buf, "\x00")) > 0 {
					return l.tellZeroRows(n)
				}
			}
		}
		n++
	}
	return l.tellZeroRows(n)
}

func (l *tiffLayout) tellZeroRows(n int) string {
	if n < zeroRows || n < l.h/zeroShare {
		return ""
	}
	return fmt.Sprintf("The last %d rows are exactly zero in all samples: a black border, or a copy that was not finished; compare the file with its original.", n)
}
