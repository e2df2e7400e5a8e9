package pocketcard

import (
	"encoding/json"
	"io"
	"math"

	"stopladder/analysis/film/pocket"
	"stopladder/analysis/film/response"
)

// Schema names the JSON of a card.
const Schema = "stopladder-pocket-1"

// Document is the JSON of a card (assets/schema/pocket-1.json).
type Document struct {
	Schema   string  `json:"schema"`
	Program  string  `json:"program"`
	Title    string  `json:"title,omitempty"`
	Stock    string  `json:"stock,omitempty"`
	Exposure string  `json:"baseExposure,omitempty"`
	Date     string  `json:"date,omitempty"`
	Kind     string  `json:"kind,omitempty"`
	Rated    float64 `json:"ratedISO,omitempty"`
	Limits   struct {
		Name         string   `json:"name"`
		Grade        string   `json:"grade"`
		Noise        float64  `json:"noise"`
		ContrastKept *float64 `json:"contrastKept,omitempty"`
		FlatShare    float64  `json:"flatShare"`
	} `json:"limits"`
	MidGrey struct {
		By    string  `json:"by"`
		Patch string  `json:"patch,omitempty"`
		Error float64 `json:"error"`
	} `json:"midGrey"`
	NoiseKnown bool       `json:"noiseKnown"`
	Cells      []CellJSON `json:"cells"`
	Dark       *EndJSON   `json:"dark,omitempty"`
	Light      *EndJSON   `json:"light,omitempty"`
	Under      *EndJSON   `json:"under,omitempty"`
	Over       *EndJSON   `json:"over,omitempty"`
	Speed      *SpeedJSON `json:"speed,omitempty"`
	Says       []string   `json:"says"`
	Basis      []string   `json:"basis"`
}

// CellJSON is one cell.
type CellJSON struct {
	Light   float64  `json:"light"`
	Exposed float64  `json:"exposed"`
	State   string   `json:"state"`
	Near    bool     `json:"near,omitempty"`
	NoiseL  *float64 `json:"noiseL,omitempty"`
}

// EndJSON is an end of what is drawn.
type EndJSON struct {
	Stops float64 `json:"stops"`
	Error float64 `json:"error"`
	Then  string  `json:"then,omitempty"`
	Open  bool    `json:"open,omitempty"`
}

// SpeedJSON is the film speed that is suggested.
type SpeedJSON struct {
	Stops   float64 `json:"stops"`
	Error   float64 `json:"error"`
	ISO     float64 `json:"iso,omitempty"`
	Differs bool    `json:"differs"`
}

// NewDocument returns a card as JSON has it, in thirds of a stop.
func NewDocument(c *pocket.Card, h Head) *Document {
	d := &Document{Schema: Schema, Program: h.Software, Title: h.Title, Stock: h.Stock, Exposure: h.Exposure, Date: h.Date, Kind: string(c.Kind()), Rated: c.Rated(), NoiseKnown: c.NoiseKnown}
	d.Limits.Name, d.Limits.Grade, d.Limits.Noise, d.Limits.FlatShare = c.Set.Title(), string(c.Set.Grade), c.Limit, response.FlatShare
	if c.Kept > 0 {
		d.Limits.ContrastKept = &c.Kept
	}
	d.MidGrey.By, d.MidGrey.Patch, d.MidGrey.Error = string(c.MidGrey), c.GreyPatch, rounded(c.MidGreyError)
	for _, l := range lights(steps[0]) {
		for _, e := range exposures() {
			cell := c.At(l, e)
			out := CellJSON{Light: rounded(l), Exposed: e, State: cell.State.Word(), Near: cell.Near}
			if n := rounded(cell.Noise); cell.State != pocket.Unknown && n == n && !math.IsInf(n, 0) {
				out.NoiseL = &n
			}
			d.Cells = append(d.Cells, out)
		}
	}
	if dark, light, ok := c.Ends(0); ok {
		d.Dark, d.Light = end(dark), end(light)
	}
	if under, over, ok := c.Bears(); ok {
		d.Under, d.Over = end(under), end(over)
	}
	if s, ok := c.Speed(); ok {
		d.Speed = &SpeedJSON{rounded(s.Stops), rounded(s.Error), s.ISO, s.Differs()}
	}
	for _, s := range c.Lines() {
		d.Says = append(d.Says, s.Text)
	}
	d.Basis = c.Basis()
	return d
}

func end(e pocket.End) *EndJSON {
	out := &EndJSON{Stops: rounded(e.Stops), Error: rounded(e.Error), Open: e.Open}
	if !e.Open {
		out.Then = e.Then.Word()
	}
	return out
}

// rounded keeps thousandths.
func rounded(v float64) float64 { return math.Round(v*1000) / 1000 }

// JSON writes a card as JSON.
func JSON(w io.Writer, c *pocket.Card, h Head) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(NewDocument(c, h))
}
