package plot

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
)

// CSV writes the curves as a table of RFC 4180 (comma, CRLF, one header line):
// one line per log exposure, and for each channel density, its standard error,
// slope and part of the curve. What is not known is left empty. Without a
// response the header stands alone.
func (d *Data) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	head := []string{"exposure (stops from mid-grey of the base exposure)", "log exposure (log10 H from mid-grey of the base exposure)"}
	chans := []int{0, 1, 2}
	if d.Grey {
		chans = chans[:1]
	}
	for _, c := range chans {
		n := d.name(c)
		head = append(head, "density "+n+" (-log10 of linear light)", "standard error of density "+n,
			"slope "+n+" (density per log10 H)", "part "+n)
	}
	if err := out.Write(head); err != nil {
		return err
	}
	if d.Curve != nil {
		for _, x := range d.Curve.LogE {
			r := d.At(x / stopLog)
			row := []string{figure(r.Stop, 4), figure(x, 4)}
			for _, c := range chans {
				q := r.Channels[c]
				if !q.OK {
					row = append(row, "", "", "", "")
					continue
				}
				row = append(row, figure(q.Density, 5), figure(q.Sigma, 5), figure(q.Slope, 4), string(q.Part))
			}
			if err := out.Write(row); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// figure writes a number for a table; "" where there is none.
func figure(v float64, decimals int) string {
	if !finite(v) {
		return ""
	}
	if p := math.Pow10(decimals); math.Round(v*p) == 0 {
		v = 0 // no negative nothing
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}
