package patch

import (
	"encoding/csv"
	"io"
	"math"
	"sort"
	"strconv"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/numeric/number"
)

// Column is one reading over all patches and frames. Value is nil where there is
// none.
type Column struct {
	Name     string // with its unit
	Short    string // heads a narrow column
	Decimals int
	Signed   bool
	Value    func(r *Reading) *float64
}

// Columns returns the readings in the order of the table.
func Columns() []Column {
	of := func(f func(r *Reading) float64) func(r *Reading) *float64 {
		return func(r *Reading) *float64 {
			v := f(r)
			if r.Reason != "" || math.IsNaN(v) || math.IsInf(v, 0) {
				return nil
			}
			return &v
		}
	}
	hundred := func(v float64) *float64 { v *= 100; return &v }
	return []Column{
		{"L*", "L*", 1, false, of(func(r *Reading) float64 { return r.L })},
		{"a*", "a*", 1, true, of(func(r *Reading) float64 { return r.A })},
		{"b*", "b*", 1, true, of(func(r *Reading) float64 { return r.B })},
		{"dE00 against base", "ΔE00", 1, false, func(r *Reading) *float64 { return r.DeltaE }},
		{"dL* against base", "ΔL*", 1, true, func(r *Reading) *float64 { return r.DL }},
		{"da* against base", "Δa*", 1, true, func(r *Reading) *float64 { return r.Da }},
		{"db* against base", "Δb*", 1, true, func(r *Reading) *float64 { return r.Db }},
		{"CC R-G against base", "CC R−G", 0, true, func(r *Reading) *float64 {
			if r.CC == nil {
				return nil
			}
			return hundred(r.CC.RG)
		}},
		{"CC B-G against base", "CC B−G", 0, true, func(r *Reading) *float64 {
			if r.CC == nil {
				return nil
			}
			return hundred(r.CC.BG)
		}},
		{"CC R-G against neutral", "nt R−G", 0, true, func(r *Reading) *float64 {
			if r.CCNeutral == nil {
				return nil
			}
			return hundred(r.CCNeutral.RG)
		}},
		{"CC B-G against neutral", "nt B−G", 0, true, func(r *Reading) *float64 {
			if r.CCNeutral == nil {
				return nil
			}
			return hundred(r.CCNeutral.BG)
		}},
		{"density R", "D R", 2, false, of(func(r *Reading) float64 { return r.Density.R })},
		{"density G", "D G", 2, false, of(func(r *Reading) float64 { return r.Density.G })},
		{"density B", "D B", 2, false, of(func(r *Reading) float64 { return r.Density.B })},
		{"S/N", "S/N", 0, false, func(r *Reading) *float64 { return r.SNR }},
		{"Blown %", "Blown %", 0, false, of(func(r *Reading) float64 { return 100 * r.Blown })},
		{"Blocked %", "Blkd %", 0, false, of(func(r *Reading) float64 { return 100 * r.Blocked })},
		{"stops to Blown", "to Blown", 1, true, func(r *Reading) *float64 {
			if r.Headroom == nil {
				return nil
			}
			return r.Headroom.Blown
		}},
		{"stops to Blocked", "to Blkd", 1, true, func(r *Reading) *float64 {
			if r.Headroom == nil {
				return nil
			}
			return r.Headroom.Blocked
		}},
	}
}

// Row is one patch in one frame.
type Row struct {
	Patch, Frame int
	Name         string
	Stop         float64
	Reading      *Reading
}

// Rows returns all of them: patch by patch, over above under.
func (s *Set) Rows(stops []float64) (rows []Row) {
	order := make([]int, len(stops))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return stops[order[a]] > stops[order[b]] })
	for i, p := range s.Patches {
		for _, j := range order {
			if j < len(s.Readings[i]) {
				rows = append(rows, Row{i, j, p.Name, stops[j], &s.Readings[i][j]})
			}
		}
	}
	return rows
}

// Sort orders rows by a column, rows without a value last; rows of one value stay
// in their order.
func Sort(rows []Row, c Column, down bool) {
	sort.SliceStable(rows, func(a, b int) bool {
		x, y := c.Value(rows[a].Reading), c.Value(rows[b].Reading)
		switch {
		case x == nil || y == nil:
			return x != nil && y == nil
		case down:
			return *x > *y
		}
		return *x < *y
	})
}

// CSV writes the rows: RFC 4180, decimal points whatever the locale, an empty cell
// where there is no value; the last column says why. Errors are the writer's.
func CSV(w io.Writer, rows []Row) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	cols := Columns()
	head := []string{"patch", "stop"}
	for _, k := range cols {
		head = append(head, k.Name)
	}
	if err := c.Write(append(head, "note")); err != nil {
		return err
	}
	for _, r := range rows {
		line := []string{legible.Cell(r.Name), strconv.FormatFloat(r.Stop, 'f', -1, 64)}
		for _, k := range cols {
			cell := ""
			if v := k.Value(r.Reading); v != nil {
				cell = strconv.FormatFloat(*v, 'f', k.Decimals+1, 64)
			}
			line = append(line, cell)
		}
		if err := c.Write(append(line, legible.Cell(r.Reading.Reason))); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// Words writes a value as the table shows it, "–" for none.
func (c Column) Words(v *float64) string {
	if v == nil {
		return "–"
	}
	if c.Signed {
		return number.Signed(*v, c.Decimals)
	}
	return number.Fixed(*v, c.Decimals)
}
