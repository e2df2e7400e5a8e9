package scan

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// extensions that a picture in a folder is known by.
var extensions = []string{".tif", ".tiff", ".png", ".jpg", ".jpeg"}

// Expand turns what was dropped or named into files: a folder becomes the
// pictures directly inside it, in natural order ("2" before "10"); a file passes
// as it is. A picture is a regular file whose name ends in tif, tiff, png, jpg
// or jpeg and whose first bytes agree. skipped lists what was left out of the
// folders (hidden files are not worth a word and are not listed). Paths that do
// not exist, and folders that may not be read, give an error.
func Expand(paths []string) (files []string, skipped []string, err error) {
	for _, p := range paths {
		st, err := os.Stat(p)
		if err != nil {
			return nil, nil, &fileError{p, err}
		}
		if !st.IsDir() {
			files = append(files, p)
			continue
		}
		entries, err := os.ReadDir(p)
		if err != nil {
			return nil, nil, &fileError{p, err}
		}
		var inside []string
		for _, e := range entries {
			if strings.HasPrefix(e.Name(), ".") {
				continue
			}
			full := filepath.Join(p, e.Name())
			if isPicture(full) {
				inside = append(inside, full)
			} else {
				skipped = append(skipped, full)
			}
		}
		slices.SortFunc(inside, func(a, b string) int {
			return naturalCompare(filepath.Base(a), filepath.Base(b))
		})
		files = append(files, inside...)
	}
	return files, skipped, nil
}

func isPicture(path string) bool {
	if !slices.Contains(extensions, strings.ToLower(filepath.Ext(path))) {
		return false
	}
	// Not a device or a pipe: opening one could block for ever.
	if st, err := os.Stat(path); err != nil || !st.Mode().IsRegular() {
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [8]byte
	n, _ := io.ReadFull(f, head[:])
	return sniff(head[:n]) != ""
}

// Format names the format that a file's first bytes promise, "" when it is none that
// is read.
func Format(head []byte) string { return sniff(head) }

// sniff names the format by its first bytes, "" when it is none of ours.
func sniff(head []byte) string {
	switch {
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")),
		bytes.HasPrefix(head, []byte("II+\x00")), bytes.HasPrefix(head, []byte("MM\x00+")):
		return "TIFF"
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return "PNG"
	case bytes.HasPrefix(head, []byte("\xff\xd8\xff")):
		return "JPEG"
	}
	return ""
}

// naturalCompare orders names with runs of digits by their value, letters
// without regard to case; names that are equal so far go by their bytes.
func naturalCompare(a, b string) int {
	x, y := strings.ToLower(a), strings.ToLower(b)
	for x != "" && y != "" {
		dx, dy := digits(x), digits(y)
		if dx > 0 && dy > 0 {
			nx, ny := strings.TrimLeft(x[:dx], "0"), strings.TrimLeft(y[:dy], "0")
			if len(nx) != len(ny) {
				return len(nx) - len(ny)
			}
			if c := strings.Compare(nx, ny); c != 0 {
				return c
			}
			x, y = x[dx:], y[dy:]
			continue
		}
		if x[0] != y[0] {
			return int(x[0]) - int(y[0])
		}
		x, y = x[1:], y[1:]
	}
	if c := len(x) - len(y); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
