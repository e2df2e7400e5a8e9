package against

import (
	"encoding/json"
	"io"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
)

// Schema names the JSON document and its version.
const Schema = "stopladder-compare-1"

// Document is a comparison as JSON (schema in assets/schema/compare-1.json).
type Document struct {
	Schema      string        `json:"schema"`
	Program     string        `json:"program"`
	Rolls       []RollDoc     `json:"rolls"`
	Facts       []Fact        `json:"facts"`
	Held        []string      `json:"held"`
	Warnings    []string      `json:"warnings"`
	Tried       int           `json:"tried"`
	Stretch     float64       `json:"stretch"`
	Quantities  []QuantityDoc `json:"quantities"`
	Differences []DiffDoc     `json:"differences"` // those alone that are told apart
	Sentences   []Chapter     `json:"sentences"`
	Spread      []SpreadDoc   `json:"spread"` // null: the rolls are not one test made again
	Repeats     []RepeatDoc   `json:"repeats"`
}

// RollDoc is a roll of the document.
type RollDoc struct {
	Letter  string      `json:"letter"` // what sentences on more than three rolls call it
	Name    string      `json:"name"`
	File    string      `json:"file"`
	Stale   *string     `json:"stale"`
	Judge   *string     `json:"judge"`
	Judged  *roll.Range `json:"judged"`
	Holds   *kept.Ends  `json:"holds"`
	Strains *kept.Ends  `json:"strains"`
}

// QuantityDoc is what is compared; figures are of the rolls, null where not known.
type QuantityDoc struct {
	Key     string    `json:"key"`
	Group   Group     `json:"group"`
	Unit    string    `json:"unit"`
	Figures []*Figure `json:"figures"`
}

// DiffDoc is a difference that is told.
type DiffDoc struct {
	Key   string  `json:"key"`
	A     string  `json:"a"`
	B     string  `json:"b"`
	By    float64 `json:"by"` // of b against a
	Error float64 `json:"error"`
	Bound bool    `json:"bound"`
}

// Chapter is what a group comes to in sentences.
type Chapter struct {
	Group Group    `json:"group"`
	Says  []string `json:"says"`
}

// SpreadDoc is a figure of a test made again.
type SpreadDoc struct {
	Key     string  `json:"key"`
	Unit    string  `json:"unit"`
	Rolls   int     `json:"rolls"`
	Spread  float64 `json:"spread"`
	Stated  float64 `json:"stated"`
	Covered bool    `json:"covered"`
}

// RepeatDoc is a stop that several frames of a roll stand at.
type RepeatDoc struct {
	Roll   string   `json:"roll"`
	Stop   float64  `json:"stop"`
	Frames int      `json:"frames"`
	Spread float64  `json:"spread"`
	Stated float64  `json:"stated"`
	DeltaE *float64 `json:"deltaE"`
}

func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Documented returns the comparison as a document.
func (r *Result) Documented(program string) *Document {
	d := &Document{Schema: Schema, Program: program, Facts: r.Facts, Held: r.Held(), Warnings: append([]string{}, r.Warnings...), Tried: r.Tried, Stretch: r.Stretch,
		Rolls: []RollDoc{}, Quantities: []QuantityDoc{}, Differences: []DiffDoc{}, Sentences: []Chapter{}, Repeats: []RepeatDoc{}}
	for i, x := range r.Rolls {
		o := RollDoc{Letter: Letter(i), Name: x.Name, File: lastOf(x.Path), Stale: text(x.Stale), Holds: x.Readings.Range.Holds, Strains: x.Readings.Range.Strains}
		if len(x.Roll.Marks) > 0 {
			o.Judge, o.Judged = text(x.Roll.Marks[0].Judge), x.Roll.Marks[0].Range
		}
		d.Rolls = append(d.Rolls, o)
	}
	for _, q := range r.Quantities {
		d.Quantities = append(d.Quantities, QuantityDoc{q.Key, q.Group, q.Unit, q.Figure})
	}
	for _, p := range r.Pairs {
		if p.Differs {
			d.Differences = append(d.Differences, DiffDoc{r.Quantities[p.Quantity].Key, r.Rolls[p.A].Name, r.Rolls[p.B].Name, p.By, p.Error, p.Bound})
		}
	}
	for _, g := range Groups() {
		d.Sentences = append(d.Sentences, Chapter{g, append([]string{}, r.Sentences(g)...)})
	}
	for _, s := range r.Spread {
		q := r.Quantities[s.Quantity]
		d.Spread = append(d.Spread, SpreadDoc{q.Key, q.Unit, s.Rolls, s.Spread, s.Stated, s.Covered()})
	}
	for _, p := range r.Repeats {
		d.Repeats = append(d.Repeats, RepeatDoc{r.Rolls[p.Roll].Name, p.Stop, p.Frames, p.Spread, p.Stated, p.Cost})
	}
	return d
}

// EncodeJSON writes the document.
func (d *Document) EncodeJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(d)
}
