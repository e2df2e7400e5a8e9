package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"stopladder/analysis/numeric/legible"
)

// EncodeJSON writes the document as indented UTF-8 JSON with a final newline.
// Errors are the writer's.
func (r *Report) EncodeJSON(w io.Writer) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(r)
	if err == nil {
		_, err = w.Write(legible.JSON(b.Bytes()))
	}
	if err != nil {
		return fmt.Errorf("the report could not be written as JSON: %w", err)
	}
	return nil
}

// column is one column of the CSV table.
type column struct {
	name string // with its unit
	cell func(f *Frame) string
}

// Columns lists the header names of the CSV table in order. Units are in the
// names: stops, px (pixels), bits, code (code value), fraction (0..1 of the
// image area), Lstar, astar, bstar (CIELAB D50), d... (against the base frame).
func Columns() []string {
	var names []string
	for _, c := range columns {
		names = append(names, c.name)
	}
	return names
}

// EncodeCSV writes one row a frame after a header row: RFC 4180 (comma, CRLF,
// quotes doubled), decimal points whatever the locale, UTF-8 without a mark.
// What could not be measured is an empty cell; the column notes says why. Texts that a
// spreadsheet would calculate begin with an apostrophe (legible.Cell).
// Errors are the writer's.
func (r *Report) EncodeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	rows := [][]string{Columns()}
	for i := range r.Frames {
		var row []string
		for _, col := range columns {
			row = append(row, col.cell(&r.Frames[i]))
		}
		rows = append(rows, legible.Cells(row))
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("the table could not be written as CSV: %w", err)
	}
	return nil
}

var columns = makeColumns()

func makeColumns() []column {
	cols := []column{
		{"file", func(f *Frame) string { return f.File }},
		{"stop_stops", func(f *Frame) string { return num(f.Stop) }},
		{"stop_from", func(f *Frame) string { return str(f.StopFrom) }},
		{"width_px", func(f *Frame) string { return whole(f.Width) }},
		{"height_px", func(f *Frame) string { return whole(f.Height) }},
		{"container_bits", func(f *Frame) string { return whole(f.Bits) }},
		{"effective_bits", func(f *Frame) string { return whole(f.EffectiveBits) }},
		{"profile", func(f *Frame) string {
			if f.Profile == nil {
				return ""
			}
			return f.Profile.Name
		}},
		{"profile_assumed", func(f *Frame) string {
			if f.Profile == nil {
				return ""
			}
			return strconv.FormatBool(f.Profile.Assumed)
		}},
	}
	area := func(name string, get func(a *Area) int) {
		cols = append(cols, column{"image_" + name + "_px", func(f *Frame) string {
			if f.Image == nil {
				return ""
			}
			return strconv.Itoa(get(f.Image))
		}})
	}
	area("x", func(a *Area) int { return a.X })
	area("y", func(a *Area) int { return a.Y })
	area("w", func(a *Area) int { return a.W })
	area("h", func(a *Area) int { return a.H })
	cols = append(cols, column{"image_from", func(f *Frame) string { return str(f.ImageFrom) }})
	cols = append(cols, limitColumns("ceiling", func(f *Frame) *RGBInt { return f.Ceiling })...)
	cols = append(cols, limitColumns("floor", func(f *Frame) *RGBInt { return f.Floor })...)
	cols = append(cols, clipColumns("blown", func(f *Frame) *Clip { return f.Blown })...)
	cols = append(cols, clipColumns("blocked", func(f *Frame) *Clip { return f.Blocked })...)
	cols = append(cols,
		column{"noisy_fraction", func(f *Frame) string { return num(f.Noisy) }},
		column{"noise_known_fraction", func(f *Frame) string { return num(f.NoiseKnown) }})
	cols = append(cols, bandColumns("shadows", func(f *Frame) *Band { return f.Bands.Shadows })...)
	cols = append(cols, bandColumns("midtones", func(f *Frame) *Band { return f.Bands.Midtones })...)
	cols = append(cols, bandColumns("highlights", func(f *Frame) *Band { return f.Bands.Highlights })...)
	for i, n := range [3]string{"r", "g", "b"} {
		cols = append(cols, column{"mean_" + n + "_code", func(f *Frame) string {
			if f.Mean == nil {
				return ""
			}
			v := [3]float64{f.Mean.R, f.Mean.G, f.Mean.B}[i]
			return num(&v)
		}})
	}
	cols = append(cols,
		column{"measured_stop_stops", func(f *Frame) string { return num(f.MeasuredStop) }},
		column{"crossover_dE00", func(f *Frame) string { return num(f.Crossover) }})
	cols = append(cols, salvageColumns("exposure", func(s *Salvage) *Cost { return &s.Exposure })...)
	cols = append(cols, salvageColumns("balance", func(s *Salvage) *Cost { return &s.Balance })...)
	cols = append(cols, salvageColumns("curves", func(s *Salvage) *Cost { return &s.Curves })...)
	return append(cols,
		column{"suggested", func(f *Frame) string { return str(f.Suggested) }},
		column{"missing_rows_px", func(f *Frame) string { return whole(f.MissingRows) }},
		column{"verdict", func(f *Frame) string { return str(f.Verdict) }},
		column{"note", func(f *Frame) string { return str(f.Note) }},
		column{"error", func(f *Frame) string { return str(f.Error) }},
		column{"notes", func(f *Frame) string { return strings.Join(f.Notes, " ") }})
}

// salvageColumns returns what it costs to bring a frame to the base frame at a grade.
func salvageColumns(grade string, get func(s *Salvage) *Cost) (cols []column) {
	for _, c := range []struct {
		name string
		of   func(c *Cost) *float64
	}{
		{"dE00", func(c *Cost) *float64 { return c.DeltaE }},
		{"dE00_p95", func(c *Cost) *float64 { return c.P95 }},
		{"noise_Lstar", func(c *Cost) *float64 { return c.NoiseL }},
		{"lost_fraction", func(c *Cost) *float64 { return c.LostArea }},
		{"contrast_kept_ratio", func(c *Cost) *float64 { return c.ContrastKept }},
		{"crossover_dE00", func(c *Cost) *float64 { return c.Crossover }},
	} {
		cols = append(cols, column{"salvage_" + grade + "_" + c.name, func(f *Frame) string {
			if f.Salvage == nil {
				return ""
			}
			return num(c.of(get(f.Salvage)))
		}})
	}
	return cols
}

func limitColumns(name string, get func(f *Frame) *RGBInt) (cols []column) {
	for i, n := range [3]string{"r", "g", "b"} {
		cols = append(cols, column{name + "_" + n + "_code", func(f *Frame) string {
			v := get(f)
			if v == nil {
				return ""
			}
			return strconv.Itoa([3]int{v.R, v.G, v.B}[i])
		}})
	}
	return cols
}

func clipColumns(name string, get func(f *Frame) *Clip) (cols []column) {
	for i, n := range [5]string{"r", "g", "b", "any", "all"} {
		cols = append(cols, column{name + "_" + n + "_fraction", func(f *Frame) string {
			c := get(f)
			if c == nil {
				return ""
			}
			v := [5]float64{c.R, c.G, c.B, c.Any, c.All}[i]
			return num(&v)
		}})
	}
	return cols
}

func bandColumns(name string, get func(f *Frame) *Band) (cols []column) {
	for i, n := range [10]string{"area_fraction", "Lstar", "astar", "bstar", "dLstar", "dastar", "dbstar", "noise_Lstar", "cast_astar", "cast_bstar"} {
		cols = append(cols, column{name + "_" + n, func(f *Frame) string {
			b := get(f)
			if b == nil {
				return ""
			}
			switch {
			case i == 7:
				return num(b.Noise)
			case i > 7 && b.Cast == nil:
				return ""
			case i > 7:
				v := [2]float64{b.Cast.A, b.Cast.B}[i-8]
				return num(&v)
			}
			v := [7]float64{b.Area, b.L, b.A, b.B, b.DL, b.Da, b.Db}[i]
			return num(&v)
		}})
	}
	return cols
}

func num(v *float64) string {
	if v == nil || !finite(*v) {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}

func whole(v *int) string {
	if v == nil {
		return ""
	}
	return strconv.Itoa(*v)
}

func str(v *string) string {
	if v == nil {
		return ""
	}
	return *v
}
