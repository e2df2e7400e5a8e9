// Package webreport writes a roll as one HTML file that a browser opens from the disk: the
// pictures with a movable edge and their masks, the ladder as the index, the readings, the
// finding. Nothing is fetched, and the page forbids itself to fetch. Its figures are those
// of the JSON, which it holds and draws from.
package webreport

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/row"
	"stopladder/assets"
)

// Sizes of what the file holds.
const (
	MaxSide = 2048     // longest side of a picture, pixels
	MinSide = 640      // below which pictures are not made smaller, however many there are
	budget  = 17 << 20 // bytes of all pictures, a third of them more as text: under 25 MB in all
	perArea = 0.26     // bytes a pixel that a picture with grain takes, about
	maskMax = 640      // longest side of a mask, pixels
)

// Options say what the report shows.
type Options struct {
	Grade     criteria.Grade // the frames as salvaged beside those as scanned; "" is that of the limits
	Corrected bool           // with the roll's correction of all frames
	Version   string         // of the program
	Limits    *criteria.Set  // nil: the roll's own
}

// picture is one picture of the page.
type picture struct {
	Frame int    // index into the document's frames
	Shown string // how, in words
	Own   bool   // as scanned, or corrected like all
	URL   template.URL
	W, H  int
	Alt   string
}

// data is what the template gets.
type data struct {
	Title    string
	Policy   string
	CSS      template.CSS
	JS       template.JS
	JSON     template.JS // the document as measure --json writes it
	Extra    template.JS // what is said of it in the program's words
	Pictures []picture
	Response template.HTML // the plot, as SVG; "" where none was measured
	Masks    template.JS   // a list of mask
	Program  string

	masks []mask
}

// mask is where a frame is marked.
type mask struct {
	Frame int          `json:"frame"`
	Kind  string       `json:"kind"`
	URL   template.URL `json:"url"`
}

// extra is what the page needs besides the document: words as the window has them.
type extra struct {
	Frames   []words           `json:"frames"`   // in the document's order
	Grade    string            `json:"grade"`    // of the salvaged pictures
	Limits   string            `json:"limits"`   // their name
	Criteria []criterionWords  `json:"criteria"` // in their order
	Patterns map[string]string `json:"patterns"` // of masks, by name: a tile as a data URL
	Colours  map[string]string `json:"colours"`
}

type words struct {
	Label     string `json:"label"`
	Decided   string `json:"decided"`
	Suggested string `json:"suggested"`
	Base      bool   `json:"base"`
}

type criterionWords struct {
	Key   string  `json:"key"`
	Title string  `json:"title"`
	Head  string  `json:"head"`  // over a column, with its unit
	Scale float64 `json:"scale"` // from the JSON's value to the unit
	Least bool    `json:"least"`
}

// kinds are the masks of the page.
var kinds = []struct {
	kind paint.Kind
	name string
}{{paint.Blown, "Blown"}, {paint.Blocked, "Blocked"}, {paint.Noisy, "Noisy"}, {paint.Lost, "Lost"}, {paint.Dust, "Dust"}}

// Write writes the report of a measured roll. open gives the scan of a frame for pictures
// that the previews are too small for; nil draws from those. progress counts frames; it may
// be nil. It ends early with ctx's error.
func Write(ctx context.Context, out io.Writer, r *film.Roll, o Options, open func(i int) (scan.Source, error), progress func(done, total int)) error {
	if o.Limits != nil {
		judged := r.Judged.Clone()
		judged.Limits = o.Limits
		r = r.With(judged)
	}
	if o.Grade == "" {
		o.Grade = r.Limits().Grade
	}
	doc := report.Build(r, report.Options{Version: o.Version})
	order := frameOrder(r, doc)
	d := data{Title: legible.Line(r.Judged.Called()), Program: "Stopladder " + o.Version}
	if d.Title == "" {
		d.Title = "Untitled roll"
	}
	if err := d.pictures(ctx, r, o, order, open, progress); err != nil {
		return err
	}
	err := d.texts(r, o, doc, order)
	if err != nil {
		return err
	}
	if d.Response, err = responsePlot(r); err != nil {
		return err
	}
	page, err := template.ParseFS(assets.Report, "report/page.html")
	if err != nil {
		return fmt.Errorf("the report's template: %w", err)
	}
	return page.Execute(out, d)
}

// responsePlot returns the response plot as an element of the page.
func responsePlot(r *film.Roll) (template.HTML, error) {
	if r.Response == nil || r.Response.Curve == nil {
		return "", nil
	}
	pal := paint.Dark
	pal.Surround, pal.Panel = paint.Hex(0x3a3a3a), paint.Hex(0x3a3a3a) // the page's ground
	var b bytes.Buffer
	if err := plot.Response(plot.Of(r), 860, 420, &pal).SVG(&b); err != nil {
		return "", err
	}
	_, svg, _ := strings.Cut(b.String(), "?>\n") // inside a page it has no prolog
	return template.HTML(svg), nil               // its words are escaped
}

// frameOrder returns the index in the roll of each frame of the document, which has them
// from under to over.
func frameOrder(r *film.Roll, doc *report.Report) []int {
	var order []int
	taken := map[int]bool{}
	for _, f := range doc.Frames {
		for i := range r.Frames {
			same := f.Stop == nil && r.Frames[i].Unlabelled || f.Stop != nil && !r.Frames[i].Unlabelled && *f.Stop == r.Judged.Frames[i].Stop
			if !taken[i] && same && r.Judged.Frames[i].Name() == f.File {
				order, taken[i] = append(order, i), true
				break
			}
		}
	}
	return order
}

// pictures draws all pictures and masks.
func (d *data) pictures(ctx context.Context, r *film.Roll, o Options, order []int, open func(i int) (scan.Source, error), progress func(done, total int)) error {
	n := 0
	for _, i := range order {
		if r.Frames[i].Look != nil {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	for k, i := range order {
		if r.Frames[i].Look == nil {
			continue
		}
		if err := d.frame(ctx, r, o, k, i, budget/(2*n), open); err != nil {
			return err
		}
		if progress != nil {
			progress(k+1, len(order))
		}
	}
	return ctx.Err()
}

// side returns the longest side of pictures that may take so many bytes each.
func side(area image.Rectangle, most int) int {
	w, h := float64(area.Dx()), float64(area.Dy())
	long := math.Max(w, h)
	fits := math.Sqrt(float64(most) / perArea * long / math.Min(w, h))
	return int(math.Min(long, math.Min(MaxSide, math.Max(MinSide, fits))))
}

// frame adds the pictures and masks of one frame; most is the bytes of a picture.
func (d *data) frame(ctx context.Context, r *film.Roll, o Options, k, i, most int, open func(i int) (scan.Source, error)) error {
	p := render.OfRoll(r, i)
	area := p.BaseArea()
	s := side(area, most)
	w, h := sized(area, s)
	if f := p.Look.Preview.Factor; f > 1 && 4*max(area.Dx(), area.Dy()) >= 3*s*f {
		w, h, open = min(w, area.Dx()/f), min(h, area.Dy()/f), nil // the preview is as good: nothing is read
	}
	v := render.Port{Area: area, W: w, H: h}.Fit()
	if open != nil {
		detail, err := render.ReadDetail(ctx, func() (scan.Source, error) { return open(i) }, p, v, w, h)
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return fmt.Errorf("%s cannot be read again at full resolution: %w", r.Judged.Frames[i].Name(), err)
		}
		p.Detail = detail
	}
	still := render.NewStill(p, v, w, h)
	p.Detail = nil
	label := stops.Label(r.Judged.Frames[i].Stop)
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for _, g := range []criteria.Grade{"", o.Grade} {
		own, all, shown := render.Shown{Grade: g, Corrected: o.Corrected}.Of(r, i)
		if g != "" && own.IsZero() {
			continue // the base frame, or one that has no salvage
		}
		still.Draw(img, render.Corrected(own, all))
		text, err := encoded(img, most)
		if err != nil {
			return err
		}
		d.Pictures = append(d.Pictures, picture{Frame: k, Shown: shown, Own: g == "", URL: dataURL("image/jpeg", text), W: w, H: h, Alt: label + ", " + shown})
	}
	mw, mh := sized(area, min(s, maskMax))
	masks := render.Masks(p, render.Port{Area: area, W: mw, H: mh}.Fit(), mw, mh)
	for _, m := range kinds {
		if img := masks[m.kind]; img != nil {
			text, err := alpha(img)
			if err != nil {
				return err
			}
			d.masks = append(d.masks, mask{Frame: k, Kind: m.name, URL: dataURL("image/png", text)})
		}
	}
	return nil
}

// sized returns the size of an area brought to a longest side.
func sized(area image.Rectangle, side int) (w, h int) {
	z := float64(side) / float64(max(area.Dx(), area.Dy()))
	return max(1, int(math.Round(float64(area.Dx())*z))), max(1, int(math.Round(float64(area.Dy())*z)))
}

// encoded writes a picture as JPEG of the best of a few qualities that keeps within most
// bytes, of the last whatever it takes.
func encoded(img *image.RGBA, most int) ([]byte, error) {
	var b bytes.Buffer
	for _, q := range []int{88, 80, 72, 64, 55, 45} {
		b.Reset()
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: q}); err != nil {
			return nil, err
		}
		if b.Len() <= most {
			break
		}
	}
	return b.Bytes(), nil
}

// alpha writes a mask as a PNG with two colours, or three, all of them opacity.
func alpha(m *image.Alpha) ([]byte, error) {
	p := image.NewPaletted(m.Rect, color.Palette{color.NRGBA{}, color.NRGBA{A: render.Weak}, color.NRGBA{A: 255}})
	for i, v := range m.Pix {
		switch v {
		case 255:
			p.Pix[i] = 2
		case render.Weak:
			p.Pix[i] = 1
		}
	}
	var b bytes.Buffer
	err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, p)
	return b.Bytes(), err
}

func dataURL(kind string, text []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(text))
}

// texts fills in the document, the words, the style, the script and what they may do.
func (d *data) texts(r *film.Roll, o Options, doc *report.Report, order []int) error {
	var err error
	if d.JSON, err = inScript(doc); err != nil {
		return err
	}
	x := extra{Grade: o.Grade.InWords(), Limits: r.Limits().Title(), Patterns: map[string]string{}, Colours: map[string]string{}}
	rows := row.Of(r, func(*row.Data) {})
	for _, i := range order {
		x.Frames = append(x.Frames, words{Label: rows[i].Name(), Decided: rows[i].Why(), Suggested: rows[i].Suggested, Base: rows[i].Base})
	}
	for _, c := range criteria.All() {
		w := criterionWords{Key: c.Key(), Title: c.Title(), Head: row.CriterionHead(c), Scale: 1, Least: c.Least()}
		if c == criteria.LostArea || c == criteria.ContrastKept {
			w.Scale = 100
		}
		x.Criteria = append(x.Criteria, w)
	}
	for _, m := range kinds {
		tile, err := pattern(m.kind)
		if err != nil {
			return err
		}
		x.Patterns[m.name] = string(dataURL("image/png", tile))
		c := paint.MaskColour(m.kind)
		x.Colours[m.name] = fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B)
	}
	if d.Extra, err = inScript(x); err != nil {
		return err
	}
	if d.Masks, err = inScript(d.masks); err != nil {
		return err
	}
	css, err := assets.Report.ReadFile("report/page.css")
	if err != nil {
		return err
	}
	js, err := assets.Report.ReadFile("report/page.js")
	if err != nil {
		return err
	}
	d.CSS, d.JS = template.CSS(css), template.JS(js)
	// Only what is in this file may be shown and run (W3C Content Security Policy 3).
	d.Policy = fmt.Sprintf("default-src 'none'; img-src data:; style-src 'sha256-%s'; script-src 'sha256-%s'; base-uri 'none'; form-action 'none'", hash(css), hash(js))
	return nil
}

// pattern returns the tile of a mask's pattern, as the window draws it.
func pattern(k paint.Kind) ([]byte, error) {
	img := image.NewNRGBA(image.Rect(0, 0, paint.Period, paint.Period))
	c := paint.MaskColour(k)
	for y := range paint.Period {
		for x := range paint.Period {
			img.SetNRGBA(x, y, color.NRGBA{c.R, c.G, c.B, paint.Pattern(k, x, y, true)})
		}
	}
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

func hash(text []byte) string {
	sum := sha256.Sum256(text)
	return base64.StdEncoding.EncodeToString(sum[:])
}

// inScript writes a value as JSON that can stand in a script element: what could end it is
// an escape (encoding/json), and so is what steers a reader's eye.
func inScript(v any) (template.JS, error) {
	text, err := json.Marshal(v)
	return template.JS(legible.JSON(text)), err
}
