package files

// root is a place that everything of a disk stands under.
type root struct{ words, path string }

// drives are the roots of a mask of drives as Windows gives it: bit 0 is A.
func drives(mask uint32) (out []root) {
	for i := range 26 {
		if mask&(1<<i) != 0 {
			letter := string(rune('A' + i))
			out = append(out, root{"Drive " + letter, letter + `:\`})
		}
	}
	return out
}
