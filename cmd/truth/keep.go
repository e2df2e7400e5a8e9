package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/scan/tiffwrite"
)

// keep writes a roll's scans as TIFF into a folder, named by their stops.
func keep(dir string, at []float64, frames []*adversary.Frame) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for i, f := range frames {
		name := strings.ReplaceAll(stops.Label(at[i]), "\u2212", "-") + ".tif"
		err := wholefile.WriteSeek(filepath.Join(dir, name), func(w io.WriteSeeker) error {
			t, err := tiffwrite.NewWriter(w, tiffwrite.Options{Width: f.Pixels.Header.Width, Height: f.Pixels.Header.Height, ICC: f.Pixels.Header.ICC, Software: "Stopladder adversary"})
			if err != nil {
				return err
			}
			if err := t.WriteRows(f.Pixels.Pix); err != nil {
				return err
			}
			return t.Close()
		})
		if err != nil {
			return err
		}
	}
	return nil
}
