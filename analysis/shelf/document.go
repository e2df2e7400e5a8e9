package shelf

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
)

// Schema names the JSON document and its version.
const Schema = "stopladder-shelf-1"

// Document is a shelf as JSON (schema in assets/schema/shelf-1.json). What is not known is
// null.
type Document struct {
	Schema  string   `json:"schema"`
	Program string   `json:"program"` // version
	Folder  string   `json:"folder"`  // its name, without where it lies
	Rolls   []Row    `json:"rolls"`
	Notes   []string `json:"notes"`
}

// Row is one roll.
type Row struct {
	File        string      `json:"file"` // relative to the folder, with forward slashes
	Title       *string     `json:"title"`
	Stock       *string     `json:"stock"`
	Scene       *string     `json:"scene"`
	Metering    *string     `json:"metering"`
	Development *string     `json:"development"`
	Lab         *string     `json:"lab"`
	Scanner     *string     `json:"scanner"`
	Date        *string     `json:"date"`
	Frames      []float64   `json:"frames"` // labelled stops
	Judge       *string     `json:"judge"`
	Judged      *roll.Range `json:"judged"`
	Holds       *kept.Ends  `json:"holds"`
	Strains     *kept.Ends  `json:"strains"`
	Limits      *string     `json:"limits"` // by which the range was measured
	FixedScans  *bool       `json:"fixedScans"`
	Stale       *string     `json:"stale"` // why it is to be measured anew; null: the readings are fresh
	Missing     []string    `json:"missing"`
	Changed     []string    `json:"changed"`
	Touched     []string    `json:"touched"`
	Problems    []string    `json:"problems"`
	Error       *string     `json:"error"` // why the roll file cannot be used
}

func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Documented returns entries as a document.
func (s *Shelf) Documented(entries []*Entry, program string) *Document {
	base := s.Folder
	for i := len(base) - 1; i >= 0; i-- {
		if base[i] == '/' || base[i] == '\\' {
			base = base[i+1:]
			break
		}
	}
	d := &Document{Schema: Schema, Program: program, Folder: base, Rolls: []Row{}, Notes: append([]string{}, s.Notes...)}
	for _, e := range entries {
		d.Rolls = append(d.Rolls, e.row())
	}
	return d
}

func (e *Entry) row() Row {
	w := Row{File: e.Name + roll.Ext, Frames: []float64{}, Stale: text(e.Stale),
		Missing: append([]string{}, e.Missing...), Changed: append([]string{}, e.Changed...), Touched: append([]string{}, e.Touched...), Problems: append([]string{}, e.Problems...)}
	if e.Err != nil {
		w.Error = text(e.Err.Error())
	}
	r := e.Roll
	if r == nil {
		return w
	}
	w.Title, w.Stock, w.Scene, w.Metering, w.Development = text(r.Title), text(r.Stock), text(r.Scene), text(r.Metering), text(r.Development)
	w.Lab, w.Scanner, w.Date = text(r.Lab), text(r.Scanner), text(r.Date)
	for _, f := range r.Frames {
		w.Frames = append(w.Frames, f.Stop)
	}
	g, judge := e.Judged()
	w.Judged, w.Judge = g, text(judge)
	if k := r.Readings; k != nil {
		w.Holds, w.Strains, w.FixedScans, w.Limits = k.Range.Holds, k.Range.Strains, k.Fixed, text(k.Limits.Title())
	}
	return w
}

// EncodeJSON writes the document.
func (d *Document) EncodeJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(d)
}

// EncodeCSV writes a row for each roll (RFC 4180). A cell is empty where nothing is known.
func (d *Document) EncodeCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	out.Write([]string{"file", "title", "stock", "scene", "metering", "development", "lab", "scanner", "date", "frames", "judge", "judged lo", "judged hi",
		"holds lo", "holds lo error", "holds lo open", "holds hi", "holds hi error", "holds hi open",
		"strains lo", "strains lo error", "strains lo open", "strains hi", "strains hi error", "strains hi open", "stale", "missing", "error"})
	for _, r := range d.Rolls {
		s := func(p *string) string {
			if p == nil {
				return ""
			}
			return *p
		}
		row := []string{r.File, s(r.Title), s(r.Stock), s(r.Scene), s(r.Metering), s(r.Development), s(r.Lab), s(r.Scanner), s(r.Date), strconv.Itoa(len(r.Frames)), s(r.Judge), "", ""}
		number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
		if r.Judged != nil {
			row[11], row[12] = number(r.Judged.Lo), number(r.Judged.Hi)
		}
		for _, g := range []*kept.Ends{r.Holds, r.Strains} {
			if g == nil {
				row = append(row, "", "", "", "", "", "")
				continue
			}
			for _, e := range []kept.End{g.Lo, g.Hi} {
				row = append(row, number(e.Stop), number(e.Error), strconv.FormatBool(e.Open))
			}
		}
		out.Write(append(row, s(r.Stale), strconv.Itoa(len(r.Missing)), s(r.Error)))
	}
	out.Flush()
	return out.Error()
}
