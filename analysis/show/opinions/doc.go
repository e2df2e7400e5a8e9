// Package opinions writes the opinions of several judges on one roll for others to read: as
// JSON (schema in assets/schema/opinions-1.json), as CSV and as a table.
package opinions

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"stopladder/analysis/judge/agreement"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/legible"
)

// Schema is the name that the JSON says of itself.
const Schema = "stopladder-opinions-1"

// Doc is the document.
type Doc struct {
	Schema     string      `json:"schema"`
	Program    string      `json:"program"` // version
	Title      string      `json:"title,omitempty"`
	Hidden     int         `json:"hidden"` // judgings that are not shown before the own is done
	Judgements []Judgement `json:"judgements"`
	Frames     []Frame     `json:"frames"`
	Agreement  *Agreement  `json:"agreement,omitempty"`
	Ranges     *Ranges     `json:"ranges,omitempty"`
	Says       []string    `json:"says"`

	side *opinion.Side
}

// Judgement is one judge's, of one sitting.
type Judgement struct {
	Judge   string      `json:"judge"`
	Date    string      `json:"date,omitempty"`
	Session string      `json:"session,omitempty"`
	Seen    string      `json:"seen"`    // "scans" or "previews"
	Own     bool        `json:"own"`     // of this roll's judge
	Now     bool        `json:"now"`     // being made: not done yet, or changed since
	Knowing bool        `json:"knowing"` // made after others' marks were seen: does not count
	Range   *roll.Range `json:"range,omitempty"`
	Finding string      `json:"finding,omitempty"`
}

// Frame is what was said of a frame, in the order of the judgements; "" is nothing.
type Frame struct {
	File     string    `json:"file"`
	Stop     float64   `json:"stop"`
	Span     int       `json:"span"` // steps between the verdicts that lie furthest apart
	Verdicts []Verdict `json:"verdicts"`
}

// Verdict is one judge's on a frame.
type Verdict struct {
	Verdict string `json:"verdict,omitempty"`
	Note    string `json:"note,omitempty"`
	Changed bool   `json:"changed,omitempty"` // the scan has another content now: does not count
}

// Agreement is agreement.Verdicts.
type Agreement struct {
	Judgements int      `json:"judgements"`
	Frames     int      `json:"frames"`
	LeftOut    int      `json:"leftOut"`
	Share      float64  `json:"share"`
	ByHabit    float64  `json:"byHabit"`
	Kind       string   `json:"kind"` // "Cohen" or "Fleiss"
	Kappa      *float64 `json:"kappa,omitempty"`
	Low        *float64 `json:"low,omitempty"`
	High       *float64 `json:"high,omitempty"`
	Weighted   *float64 `json:"weighted,omitempty"`
	Chance     float64  `json:"chance"`
	Deals      int      `json:"deals"`
	Exact      bool     `json:"exact"`
}

// Ranges is agreement.Ranges.
type Ranges struct {
	Judgements int         `json:"judgements"`
	All        *roll.Range `json:"all,omitempty"`
	Some       roll.Range  `json:"some"`
	Middle     roll.Range  `json:"middle"`
	ApartLo    float64     `json:"apartLo"`
	ApartHi    float64     `json:"apartHi"`
	Overlap    float64     `json:"overlap"`
}

// Build makes the document of opinions beside each other, by a version of the program.
func Build(s *opinion.Side, version string) *Doc {
	d := &Doc{Schema: Schema, Program: version, Title: s.Roll.Called(), Hidden: s.Hidden,
		Judgements: []Judgement{}, Frames: []Frame{}, Says: append([]string{}, s.Says()...), side: s}
	for _, j := range s.Judgements {
		seen := "scans"
		if j.Seen != "" {
			seen = j.Seen
		}
		d.Judgements = append(d.Judgements, Judgement{Judge: j.Judge, Date: j.Date, Session: j.Session, Seen: seen,
			Own: j.Mine, Now: j.Now, Knowing: j.Knowing, Range: j.Range, Finding: j.Finding})
	}
	for i, f := range s.Roll.Frames {
		one := Frame{File: f.ScanName(), Stop: f.Stop, Span: s.Span(i), Verdicts: []Verdict{}}
		for _, j := range s.Judgements {
			v := j.Frames[i]
			one.Verdicts = append(one.Verdicts, Verdict{string(v.Verdict), v.Note, v.Changed})
		}
		d.Frames = append(d.Frames, one)
	}
	if v := s.Verdicts; v != nil {
		kind := "Fleiss"
		if v.Judges == 2 {
			kind = "Cohen"
		}
		d.Agreement = &Agreement{v.Judges, v.Frames, v.LeftOut, v.Share, v.ByHabit, kind, v.Kappa, v.Low, v.High, v.Weighted, v.Chance.P, v.Chance.Deals, v.Chance.Exact}
	}
	if g := s.Ranges; g != nil {
		plain := func(r agreement.Range) roll.Range { return roll.Range{Lo: r.Lo, Hi: r.Hi} }
		d.Ranges = &Ranges{g.Judges, nil, plain(g.Some), plain(g.Middle), g.ApartLo, g.ApartHi, g.MeanOver}
		if g.All != nil {
			all := plain(*g.All)
			d.Ranges.All = &all
		}
	}
	return d
}

// EncodeJSON writes the document as indented UTF-8 JSON with a final newline. Errors are the
// writer's.
func (d *Doc) EncodeJSON(w io.Writer) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(d)
	if err == nil {
		_, err = w.Write(legible.JSON(b.Bytes()))
	}
	if err != nil {
		return fmt.Errorf("the opinions could not be written as JSON: %w", err)
	}
	return nil
}

// Columns are the header names of the CSV table.
func Columns() []string {
	return []string{"file", "stop_stops", "judge", "date", "session", "seen", "now", "knowing", "range_lo_stops", "range_hi_stops", "verdict", "changed", "note"}
}

// EncodeCSV writes a row for each frame and judgement after a header row: RFC 4180, UTF-8.
// Errors are the writer's.
func (d *Doc) EncodeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	rows := [][]string{Columns()}
	for _, f := range d.Frames {
		for i, v := range f.Verdicts {
			j := d.Judgements[i]
			lo, hi := "", ""
			if j.Range != nil {
				lo, hi = plain(j.Range.Lo), plain(j.Range.Hi)
			}
			rows = append(rows, legible.Cells([]string{f.File, plain(f.Stop), j.Judge, j.Date, j.Session, j.Seen,
				strconv.FormatBool(j.Now), strconv.FormatBool(j.Knowing), lo, hi, v.Verdict, strconv.FormatBool(v.Changed), v.Note}))
		}
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("the opinions could not be written as CSV: %w", err)
	}
	return nil
}

func plain(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
