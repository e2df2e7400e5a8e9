package model

import "math"

// log10 by a table of mantissas, within 1e-6, for positive normal numbers.
func log10(v float32) float32 {
	b := math.Float32bits(v)
	u := float32(b&0x7fffff) * (logCells / float32(1<<23))
	i := int(u)
	return logTable[i] + (u-float32(i))*(logTable[i+1]-logTable[i]) + float32(int(b>>23)-127)*stopLog
}

const logCells = 4096

var logTable = func() (t [logCells + 2]float32) {
	for i := range t {
		t[i] = float32(math.Log10(1 + float64(i)/logCells))
	}
	return t
}()

// tenTo returns 10^-d, by a table, within a part in 1e6, for d from -1 to 8.
func tenTo(d float32) float32 {
	u := (d + 1) * tenCells
	if !(u > 0) {
		return tenTable[0]
	}
	i := int(u)
	if i >= len(tenTable)-1 {
		return tenTable[len(tenTable)-1]
	}
	return tenTable[i] + (u-float32(i))*(tenTable[i+1]-tenTable[i])
}

const tenCells = 1024

var tenTable = func() (t [9*tenCells + 1]float32) {
	for i := range t {
		t[i] = float32(math.Pow(10, 1-float64(i)/tenCells))
	}
	return t
}()
