package wholefile

import (
	"io"
	"os"
	"time"

	"stopladder/analysis/numeric/syserror"
)

// Open opens a file for reading that others replace: where a file cannot be opened in the
// moment in which it takes its name (Windows), that moment is waited.
func Open(path string) (*os.File, error) {
	for turn := 1; ; turn++ {
		f, err := os.Open(path)
		if err == nil || turn == turns || !syserror.InUse(err) {
			return f, err
		}
		time.Sleep(moment)
	}
}

// ReadFile reads a file that others replace whole.
func ReadFile(path string) ([]byte, error) {
	f, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(f)
}
