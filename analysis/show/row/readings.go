package row

import (
	"fmt"
	"image"
	"math"
	"strings"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// Row is one line of the readings: a name and its values.
type Row struct {
	Name   string
	Values []string
	Prose  bool // Name is a sentence over the whole width
	Strong bool // the row that the others are of, or that counts
}

// Section is a titled block of rows; Heads name the value columns.
type Section struct {
	Title string
	Heads []string
	By    string // the head that the rows are sorted or plotted by, "" for none
	Rows  []Row
}

// ReadingsOf returns everything that is known of a frame, in words and figures; it is
// what Readings draws, and what is copied as text.
func ReadingsOf(d *Data) []Section {
	if d == nil {
		return nil
	}
	one := func(name, value string) Row { return Row{Name: name, Values: []string{value}} }
	frame := Section{Title: d.Name() + " stops"}
	if d.Base {
		frame.Title = d.Name() + ", base frame"
	}
	if d.File != "" {
		frame.Rows = append(frame.Rows, one("Scan", d.File))
	}
	if d.State == Failed {
		frame.Rows = append(frame.Rows, Row{Name: d.Message, Prose: true})
		return []Section{frame}
	}
	l := d.Look
	if l == nil {
		frame.Rows = append(frame.Rows, Row{Name: "This frame has not been read yet.", Prose: true})
		return []Section{frame}
	}
	frame.Rows = append(frame.Rows,
		one("Size", grouped(l.Info.Width)+" × "+grouped(l.Info.Height)+" px"),
		one("Depth", fmt.Sprintf("%d bit, %d in use", l.Info.Bits, l.EffectiveBits)))
	if l.Space != nil {
		name := l.Space.Name()
		if l.Space.Assumed() {
			name += " (assumed)"
		}
		frame.Rows = append(frame.Rows, one("Profile", name))
		if way := l.Space.Way(); way != "" {
			frame.Rows = append(frame.Rows, one("Read by its", way))
		}
	}
	a := l.Area
	frame.Rows = append(frame.Rows, one("Image area", fmt.Sprintf("%s × %s px at %s, %s", grouped(a.Dx()), grouped(a.Dy()), grouped(a.Min.X), grouped(a.Min.Y))))
	if l.MissingRows > 0 {
		frame.Rows = append(frame.Rows, one("Missing", fmt.Sprintf("%s rows: the file is %s", grouped(l.MissingRows), l.Damage())))
	}
	frame.Rows = append(frame.Rows, one("Verdict", VerdictWord(d.Verdict)))

	out := []Section{frame, {
		Title: "Codes", Heads: []string{"R", "G", "B"},
		Rows: []Row{
			{Name: "Mean", Values: []string{groupedF(l.Mean.R), groupedF(l.Mean.G), groupedF(l.Mean.B)}},
			{Name: "Ceiling", Values: []string{grouped(l.Ceiling.R), grouped(l.Ceiling.G), grouped(l.Ceiling.B)}},
			{Name: "Floor", Values: []string{grouped(l.Floor.R), grouped(l.Floor.G), grouped(l.Floor.B)}},
		},
	}, {
		Title: "Lost, % of image area", Heads: []string{"R", "G", "B", "any", "all"},
		Rows: []Row{clipRow("Blown", l.Blown), clipRow("Blocked", l.Blocked)},
	}}
	out = append(out, together(d)...)
	if d.Rel == nil {
		return append(out, notes(d)...)
	}
	bands := Section{Title: "Tonal bands, mean colour, CIELAB D50", Heads: []string{"area %", "L*", "a*", "b*"}}
	diffs := Section{Title: "Mean colour against the base frame", Heads: []string{"ΔL*", "Δa*", "Δb*"}}
	for i := measure.Bands - 1; i >= 0; i-- { // as on the ladder: more light above
		b := d.Rel.Bands[i]
		if b == nil {
			bands.Rows = append(bands.Rows, Row{Name: BandNames[i], Values: []string{"–", "–", "–", "–"}})
			diffs.Rows = append(diffs.Rows, Row{Name: BandNames[i], Values: []string{"–", "–", "–"}})
			continue
		}
		bands.Rows = append(bands.Rows, Row{Name: BandNames[i], Values: []string{number.Fixed(b.Area*100, 1), number.Fixed(b.L, 1), number.Signed(b.A, 1), number.Signed(b.B, 1)}})
		diffs.Rows = append(diffs.Rows, Row{Name: BandNames[i], Values: []string{number.Signed(b.DL, 1), number.Signed(b.Da, 1), number.Signed(b.Db, 1)}})
	}
	casts := Section{Title: "Cast of greys", Heads: []string{"a*", "b*"}}
	for i := measure.Bands - 1; i >= 0; i-- {
		values := []string{"–", "–"}
		if x := castOf(d, i); x != nil {
			values = []string{number.Signed(x.DA, 1), number.Signed(x.DB, 1)}
		}
		casts.Rows = append(casts.Rows, Row{Name: BandNames[i], Values: values})
	}
	if d.CastReason != "" {
		casts.Rows = append(casts.Rows, Row{Name: d.CastReason, Prose: true})
	}
	noise := Section{Title: "Noise at the base frame's brightness"}
	if d.Rel.Noisy != nil {
		noise.Rows = append(noise.Rows, one(fmt.Sprintf("Over %s L*", number.Fixed(d.Rel.NoiseLimit, 1)), Percent(*d.Rel.Noisy)+" of image area"))
	} else if d.Rel.NoiseLater {
		noise.Rows = append(noise.Rows, Row{Name: "Known once the frames are compared.", Prose: true})
	} else {
		noise.Rows = append(noise.Rows, Row{Name: "Could not be measured; see the notes.", Prose: true})
	}
	out = append(out, bands)
	if !d.Base {
		out = append(out, diffs, casts)
	}
	return append(append(out, noise), notes(d)...)
}

func clipRow(name string, v measure.Clip) Row {
	return Row{Name: name, Values: []string{percentCell(v.R), percentCell(v.G), percentCell(v.B), percentCell(v.Any), percentCell(v.All)}}
}

func notes(d *Data) []Section {
	s := Section{Title: "Notes"}
	seen := map[string]bool{}
	add := func(list ...string) {
		for _, n := range list {
			if n != "" && !seen[n] {
				seen[n] = true
				s.Rows = append(s.Rows, Row{Name: n, Prose: true})
			}
		}
	}
	if d.Look != nil {
		add(d.Look.Info.Notes...)
		add(d.Look.AreaNote)
		add(d.Look.Notes...)
	}
	if d.Rel != nil {
		add(d.Rel.Notes...)
	}
	if len(s.Rows) == 0 {
		return nil
	}
	return []Section{s}
}

// TablesText returns sections as text: a line for each row, tabs between cells.
func TablesText(sections []Section) string {
	var b strings.Builder
	for i, s := range sections {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(strings.Join(append([]string{s.Title}, s.Heads...), "\t") + "\n")
		for _, r := range s.Rows {
			b.WriteString(strings.Join(append([]string{r.Name}, r.Values...), "\t") + "\n")
		}
	}
	return b.String()
}

// Cell is where a cell of a table was drawn, device pixels. Row is -1 for the
// heads, Col is -1 for the name of a row.
type Cell struct {
	image.Rectangle
	Section, Row, Col int
}

// Tables draws sections into r from the top, and returns the height in device
// pixels that they need, which may be more than r has. The first one's title is
// larger. Each cell is told to drawn, which may be nil.
func Tables(c *paint.Canvas, r image.Rectangle, sections []Section, drawn func(Cell)) int {
	if drawn == nil {
		drawn = func(Cell) {}
	}
	c = c.Clipped(r)
	c.Fill(r, c.Pal.Panel)
	in := image.Rect(r.Min.X+c.Px(12), r.Min.Y+c.Px(8), r.Max.X-c.Px(12), r.Max.Y)
	if in.Dx() < c.Px(40) {
		return 0
	}
	lh := c.Px(17)
	y := in.Min.Y
	row := func() image.Rectangle {
		q := image.Rect(in.Min.X, y, in.Max.X, y+lh)
		y += lh
		return q
	}
	for i, s := range sections {
		if i > 0 {
			y += c.Px(8)
		}
		n := 0
		for _, q := range s.Rows {
			n = max(n, len(q.Values))
		}
		nameW, cellW := columns(c, in.Dx(), s, n)
		head := row()
		head.Max.Y += c.Px(1)
		size := 12.0
		if i == 0 {
			size = 13.5
		}
		title := head
		if len(s.Heads) > 0 && c.Width(s.Title, text(c, size).Bold()) > float64(nameW) {
			head = row() // the title has a line of its own
		}
		c.TextIn(title, s.Title, text(c, size).Bold())
		for k, h := range s.Heads {
			at := cell(head, k, len(s.Heads), cellW)
			st := dim(c, sizeSmall)
			if s.By == h && h != "" {
				st = text(c, sizeSmall).Bold()
			}
			c.TextIn(at, h, st.Aligned(paint.Right))
			drawn(Cell{at, i, -1, k})
		}
		c.HLine(in.Min.X, in.Max.X, y, 1, c.Pal.Rule)
		y += c.Px(3)
		for n, q := range s.Rows {
			if q.Prose {
				for _, line := range c.Wrap(q.Name, text(c, 11), float64(in.Dx()), 0) {
					c.TextIn(row(), line, text(c, 11))
				}
				continue
			}
			line := row()
			name, value := dim(c, 11), text(c, 11)
			if q.Strong {
				name, value = value.Bold(), value.Bold()
			}
			c.TextIn(image.Rect(line.Min.X, line.Min.Y, line.Min.X+nameW, line.Max.Y), q.Name, name)
			drawn(Cell{line, i, n, -1})
			if len(q.Values) == 1 {
				c.TextIn(image.Rect(line.Min.X+nameW+c.Px(6), line.Min.Y, line.Max.X, line.Max.Y), q.Values[0], value)
				continue
			}
			for k, v := range q.Values {
				c.TextIn(cell(line, k, len(q.Values), cellW), v, value.Aligned(paint.Right))
			}
		}
	}
	return y + c.Px(10) - r.Min.Y
}

// columns divides the width between names and n value cells.
func columns(c *paint.Canvas, width int, s Section, n int) (name, cell int) {
	w := 0.0
	for _, q := range s.Rows {
		if !q.Prose {
			w = math.Max(w, c.Width(q.Name, dim(c, 11)))
		}
	}
	name = min(max(int(math.Ceil(w))+c.Px(8), c.Px(76)), width/2)
	if n > 1 {
		cell = min((width-name)/n, c.Px(58))
	}
	return name, cell
}

// cell returns the k-th of n cells at the right end of a line.
func cell(line image.Rectangle, k, n, w int) image.Rectangle {
	x := line.Max.X - (n-k)*w
	return image.Rect(x+2, line.Min.Y, x+w, line.Max.Y)
}
