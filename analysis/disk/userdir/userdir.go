// Package userdir names the folder that the program keeps its own files in:
// settings, cameras, recovery copies.
package userdir

import (
	"fmt"
	"os"
	"path/filepath"
)

// Dir returns the folder: STOPLADDER_HOME where that is set, else "stopladder" in the
// user's configuration folder. It may not exist yet. The error is one sentence.
func Dir() (string, error) {
	if d := os.Getenv("STOPLADDER_HOME"); d != "" {
		return d, nil
	}
	d, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("the system names no folder for settings: set STOPLADDER_HOME to one: %w", err)
	}
	return filepath.Join(d, "stopladder"), nil
}
