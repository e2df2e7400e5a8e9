package sheet

import (
	"fmt"
	"image"
	"math"
	"regexp"
	"sort"
	"strings"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

const (
	noteSize   = 11.5
	noteLead   = 15.5
	noteCols   = 3
	noteGutter = 28.0
	keyHeight  = 50.0
)

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Assumptions lists what the figures of these frames rest on, in whole
// sentences; a note that several frames share is written once.
func Assumptions(frames []Frame) []string { return assumptions(frames, true) }

// Rests does what Assumptions does for pages that have none of the record's drawings: it
// leaves out what explains those.
func Rests(frames []Frame) []string { return assumptions(frames, false) }

func assumptions(frames []Frame, drawn bool) []string {
	out := []string{
		"The sheet shows the scans, not the film alone: the scanner and the lab's settings are in every figure and picture.",
	}
	var looks []Frame
	for _, f := range frames {
		if f.Data != nil && f.Data.Look != nil {
			looks = append(looks, f)
		}
	}
	if len(looks) > 0 {
		out = append(out, profiles(looks, drawn)...)
		out = append(out, "Percentages are of the image area; film border and holder are left out. Blown and Blocked count pixels with any channel at or beyond the scan's ceiling or floor.")
		if s := areas(looks); s != "" {
			out = append(out, s)
		}
		out = append(out, clipping(looks)...)
	}
	if s := origins(frames, drawn); s != "" {
		out = append(out, s)
	}
	for _, f := range looks {
		if f.Data.Rel != nil && f.Data.Rel.NoiseLimit > 0 {
			out = append(out, fmt.Sprintf("Noisy counts shadow areas whose noise passes %.1f L* once the frame is brought to the base frame's brightness; the limit is common practice, without a published source.", f.Data.Rel.NoiseLimit))
			if drawn {
				out = append(out, "The dots of the cast are greys at the light of the scene's shadows, midtones and highlights, which the base frame shows neutral, as this frame shows them. CIELAB, D50.")
			}
			break
		}
	}
	return append(out, shared(frames)...)
}

func profiles(frames []Frame, drawn bool) (out []string) {
	assumed := map[string][]string{}
	found := map[string]bool{}
	for _, f := range frames {
		l := f.Data.Look
		if l.Space == nil {
			continue
		}
		if l.ProfileAssumed || l.Space.Assumed() {
			assumed[l.Space.Name()] = append(assumed[l.Space.Name()], f.Data.Name())
		} else {
			found[l.Space.Name()] = true
		}
	}
	for _, name := range keys(assumed) {
		if n := len(assumed[name]); n == len(frames) && n > 1 {
			out = append(out, fmt.Sprintf("No scan carries a colour profile: %s was assumed.", name))
		} else {
			out = append(out, fmt.Sprintf("%s no colour profile: %s was assumed.", carry(who(assumed[name], len(frames)), n), name))
		}
	}
	if len(found) > 0 {
		s := "Colour profile of the scans: " + strings.Join(keys(found), ", ") + "."
		if drawn {
			s += " The sheet is sRGB."
		}
		out = append(out, s)
	}
	return out
}

func carry(names string, n int) string {
	if n == 1 {
		return names + " carries"
	}
	return names + " carry"
}

// who names frames: "All scans", "Scan +1", "Scans −3, +1".
func who(names []string, total int) string {
	switch {
	case len(names) == total && total > 1:
		return "All scans"
	case len(names) == 1:
		return "Scan " + names[0]
	}
	return "Scans " + strings.Join(names, ", ")
}

func areas(frames []Frame) string {
	var hand, unsure, agreed []string
	for _, f := range frames {
		switch f.Data.Look.AreaFrom {
		case measure.AreaByHand:
			hand = append(hand, f.Data.Name())
		case measure.AreaUnsure:
			unsure = append(unsure, f.Data.Name())
		case measure.AreaAgreed:
			agreed = append(agreed, f.Data.Name())
		}
	}
	var s []string
	if len(hand) > 0 {
		s = append(s, "set by hand on "+strings.Join(hand, ", "))
	}
	if len(agreed) > 0 {
		s = append(s, "taken from the other frames on "+strings.Join(agreed, ", "))
	}
	if len(unsure) > 0 {
		s = append(s, "found without confidence on "+strings.Join(unsure, ", "))
	}
	if len(s) == 0 {
		return ""
	}
	return "Image area: " + strings.Join(s, "; ") + "."
}

// clipping returns where ceiling and floor lie when all frames agree.
func clipping(frames []Frame) []string {
	a := frames[0].Data.Look
	for _, f := range frames[1:] {
		if b := f.Data.Look; b.Ceiling != a.Ceiling || b.Floor != a.Floor {
			return []string{"Ceiling and floor differ from scan to scan; the readings list them."}
		}
	}
	return []string{fmt.Sprintf("Scan ceiling %s, floor %s in code values (R / G / B).", codes(a.Ceiling), codes(a.Floor))}
}

func codes(v measure.RGB[int]) string { return fmt.Sprintf("%d / %d / %d", v.R, v.G, v.B) }

func origins(frames []Frame, drawn bool) string {
	n := map[roll.Origin]int{}
	for _, f := range frames {
		n[f.Origin]++
	}
	delete(n, "")
	if len(n) == 0 {
		return ""
	}
	words := map[roll.Origin]string{
		roll.FromName:  "from the file names",
		roll.FromOrder: "by the order of the files",
		roll.ByHand:    "by hand",
		roll.FromDemo:  "by the built-in demo, whose scene, stock and scans are invented",
	}
	var s []string
	for _, o := range []roll.Origin{roll.FromName, roll.FromOrder, roll.ByHand, roll.FromDemo} {
		if n[o] == len(frames) {
			s = append(s, words[o])
		} else if n[o] > 0 {
			s = append(s, fmt.Sprintf("%s (%d)", words[o], n[o]))
		}
	}
	for _, f := range frames {
		if f.Data != nil && f.Data.MeasuredStop != nil {
			if !drawn {
				return "Stops are as labelled, " + strings.Join(s, ", ") + "."
			}
			return "Stops are as labelled, " + strings.Join(s, ", ") + ". White wedges beside the axis show the measured stops: only the differences between frames are certain; the labels fix their scale, and the base frame their origin."
		}
	}
	return "Stops are as labelled, " + strings.Join(s, ", ") + "; they are not measured."
}

// number finds what may differ between two frames' notes of one kind.
var figure = regexp.MustCompile(`\d+(?:\.\d+)?`)

// shared gathers the frames' own notes, each kind once, with the frames it is
// about; figures that differ are listed in the order of the frames.
func shared(frames []Frame) (out []string) {
	type kind struct {
		about []string
		text  string
		nums  [][]string // per frame
	}
	kinds := map[string]*kind{}
	var order []string
	read := 0
	for _, f := range frames {
		d := f.Data
		if d == nil {
			continue
		}
		var list []string
		if d.State == row.Failed {
			list = append(list, "not read: "+d.Message)
		}
		if d.Look != nil {
			read++
			list = append(append(list, d.Look.Info.Notes...), d.Look.AreaNote)
			list = append(list, d.Look.Notes...)
		}
		if d.Rel != nil {
			list = append(list, d.Rel.Notes...)
		}
		seen := map[string]bool{}
		for _, s := range list {
			s = strings.TrimSpace(s)
			key := figure.ReplaceAllString(s, "\x00")
			if s == "" || seen[s] {
				continue
			}
			if seen[key] { // a second of its kind on one frame stands for itself
				key = s
			}
			seen[key], seen[s] = true, true
			k := kinds[key]
			if k == nil {
				k = &kind{text: s}
				kinds[key] = k
				order = append(order, key)
			}
			k.about = append(k.about, d.Name())
			k.nums = append(k.nums, figure.FindAllString(s, -1))
		}
	}
	for _, key := range order {
		k, slot := kinds[key], -1
		text := figure.ReplaceAllStringFunc(k.text, func(first string) string {
			slot++
			all, same := make([]string, len(k.nums)), true
			for i, n := range k.nums {
				all[i] = n[slot]
				same = same && n[slot] == first
			}
			if same {
				return first
			}
			return strings.Join(all, " / ")
		})
		out = append(out, who(k.about, read)+": "+text)
	}
	return out
}

func keys[V any](m map[string]V) []string {
	k := make([]string, 0, len(m))
	for s := range m {
		k = append(k, s)
	}
	sort.Strings(k)
	return k
}

// footNotes wraps the assumptions for columns of noteCols.
func footNotes(c *paint.Canvas, l *layout, in Input, frames []Frame) (out [][]string) {
	w := c.U(noteWidth())
	all := append(append(append([]string(nil), in.Conditions...), in.Notes...), Assumptions(frames)...)
	if in.Correction != "" {
		all = append([]string{"The pictures are shown with one correction for all frames: " + strings.TrimSuffix(in.Correction, ".") + ". The readings, bars and curves are those of the scans."}, all...)
	}
	all = append(append(words(c, l, in, frames), all...), responseNotes(in, frames)...)
	for _, s := range append(all, salvageNotes(in)...) {
		if rows := c.Wrap(s, quiet(c, noteSize), w, 0); len(rows) > 0 {
			out = append(out, rows)
		}
	}
	return out
}

// words returns the judge's words that do not stand whole in title block and rows, and
// what no font could draw: no word is dropped.
func words(c *paint.Canvas, l *layout, in Input, frames []Frame) (out []string) {
	across, sum := c.U(unitsWide-2*margin), 0.0
	for _, it := range titleItems(in, frames) {
		sum += math.Max(c.Width(it[0], quiet(c, 11)), c.Width(it[1], plain(c, 15))) + c.U(32)
	}
	if sum > across || c.Width(in.Title, bold(c, 30)) > across {
		text := "In full: " + in.Title
		for _, it := range [][2]string{{"stock", in.Stock}, {"base exposure", in.Exposure}, {"judge", in.Judge}, {"date", in.Date}} {
			if it[1] != "" {
				text += "; " + it[0] + ": " + it[1]
			}
		}
		out = append(out, text)
	}
	placed := row.Arrange(l.rows.Dx(), c.Scale, sheetColumns())
	for i, f := range frames {
		if f.Data != nil && i < len(l.row) && !row.NoteStands(c, l.row[i], placed, f.Data) {
			out = append(out, "Note on "+f.Data.Name()+": "+f.Data.Note)
		}
	}
	if lacking := paint.Lacking(in.Texts()...); lacking != "" {
		out = append(out, LackingWords(lacking))
	}
	return out
}

// LackingWords returns the sentence on characters that no font of the system has.
func LackingWords(lacking string) string {
	codes := []string{}
	for _, r := range lacking {
		codes = append(codes, legible.Code(r))
		if len(codes) == 12 {
			codes = append(codes, "and more")
			break
		}
	}
	return "No font of this system has these characters, and their codes stand in their places: " + strings.Join(codes, " ") + ". Install a font that has them."
}

// Texts returns all that a person wrote or named: title block, notes, files.
func (in Input) Texts() []string {
	out := []string{in.Title, in.Stock, in.Exposure, in.Judge, in.Date}
	for _, f := range in.Frames {
		if f.Data != nil {
			out = append(out, f.Data.Note, f.Data.File, f.Data.Label)
		}
	}
	return append(append(out, in.Notes...), in.Conditions...)
}

// responseNotes returns what the plot and the flat shares rest on.
func responseNotes(in Input, frames []Frame) (out []string) {
	if hasResponse(in) {
		from := "the base exposure is taken as metered: mid-grey is where the base frame shows 18 % of full scale"
		if in.Response.Curve.MidGrey == response.MidGreyPatch {
			from = "mid-grey is the grey card's reading in the base frame"
		}
		out = append(out, fmt.Sprintf("The response is the scans' density against log exposure; %s. The straight line is where the slope is at least %.0f %% of the steepest (common practice, no source), the useful range where it is at least %.0f %%.",
			from, 100*response.StraightShare, 100*response.FlatShare))
	}
	for _, f := range frames {
		if f.Data != nil && (f.Data.FlatLight != nil || f.Data.FlatDark != nil) {
			return append(out, "Flat counts pixels that the scan has not clipped but where the film no longer separates tones; the bars show it in the weaker pattern.")
		}
	}
	return out
}

func noteWidth() float64 {
	return (unitsWide - 2*margin - (noteCols-1)*noteGutter) / noteCols
}

// noteColumns deals the notes into columns of about equal length, whole notes
// only, in reading order.
func noteColumns(notes [][]string) [noteCols][][]string {
	for limit := 1; ; limit++ {
		var cols [noteCols][][]string
		k, used, ok := 0, 0, true
		for _, n := range notes {
			if used+len(n) > limit && used > 0 {
				k, used = k+1, 0
			}
			if k >= noteCols || len(n) > limit {
				ok = false
				break
			}
			cols[k] = append(cols[k], n)
			used += len(n)
		}
		if ok {
			return cols
		}
	}
}

func noteLines(notes [][]string) int {
	most := 0
	for _, col := range noteColumns(notes) {
		n, lines := 0, 0
		for _, s := range col {
			lines += len(s)
			n++
		}
		most = max(most, lines*10+n*3) // a note is followed by a third of a line
	}
	return most
}

// footHeight returns the height of the foot in units.
func footHeight(notes [][]string) float64 {
	return keyHeight + 24 + float64(noteLines(notes))*noteLead/10 + 24
}

func drawFoot(c *paint.Canvas, l *layout, in Input, frames []Frame) {
	r := l.foot
	c.HLine(r.Min.X, r.Max.X, r.Min.Y, 1, c.Pal.Rule)
	drawKey(c, image.Rect(r.Min.X, r.Min.Y+c.Px(8), r.Max.X, r.Min.Y+c.Px(keyHeight-8)), in, frames)
	c.HLine(r.Min.X, r.Max.X, r.Min.Y+c.Px(keyHeight), 1, c.Pal.Rule)

	y0 := float64(r.Min.Y) + c.U(keyHeight+8)
	c.TextIn(image.Rect(r.Min.X, int(y0), r.Max.X, int(y0+c.U(16))), "What this sheet rests on", bold(c, 12))
	y0 += c.U(19)
	step := c.U(noteWidth() + noteGutter)
	for k, col := range noteColumns(l.notes) {
		x := float64(r.Min.X) + step*float64(k)
		y := y0
		for _, n := range col {
			for _, s := range n {
				c.TextIn(image.Rect(int(x), int(y), int(x+c.U(noteWidth()))+2, int(y+c.U(noteLead))), s, quiet(c, noteSize))
				y += c.U(noteLead)
			}
			y += c.U(noteLead * 0.3)
		}
	}
	if in.Program != "" {
		c.TextIn(image.Rect(r.Min.X, r.Max.Y-c.Px(16), r.Max.X, r.Max.Y), in.Program, quiet(c, 11).Aligned(paint.Right))
	}
}

// drawKey explains the signs in one line, and returns where it ends.
func drawKey(c *paint.Canvas, r image.Rectangle, in Input, frames []Frame) (end float64) {
	st := plain(c, 12)
	x := float64(r.Min.X)
	mid := float64(r.Min.Y+r.Max.Y) / 2
	word := func(s string, after float64) {
		x += c.U(6)
		x += c.Text(x, mid+c.Cap(st)/2, s, st) + c.U(after)
	}
	flat, stopsMeasured := false, false
	for _, f := range frames {
		flat = flat || f.Data != nil && (f.Data.FlatLight != nil || f.Data.FlatDark != nil)
		stopsMeasured = stopsMeasured || f.Data != nil && f.Data.MeasuredStop != nil
	}
	far, near := 30.0, 14.0
	if flat || stopsMeasured {
		far, near = 22, 11
	}
	for k, name := range []string{"R", "G", "B"} {
		c.HLine(int(x), int(x+c.U(14)), int(mid), 2.5, c.Pal.Channel[k])
		x += c.U(14)
		after := near
		if k == 2 {
			after = far
		}
		word(name, after)
	}
	for i, name := range []string{"shadows", "midtones", "highlights"} {
		row.BandDot(c, x+c.U(4), mid, c.U(4), measure.Band(i))
		x += c.U(8)
		after := near
		if i == 2 {
			after = far
		}
		word(name, after)
	}
	for i, name := range []string{"Blown", "Blocked", "Noisy"} {
		q := image.Rect(int(x), int(mid-c.U(6)), int(x+c.U(20)), int(mid+c.U(6)))
		c.Fill(q, c.Pal.Well)
		c.FillMask(q, paint.Kind(i), true)
		x += c.U(20)
		after := near
		if i == 2 && !flat {
			after = far
		}
		word(name, after)
	}
	if flat {
		q := image.Rect(int(x), int(mid-c.U(6)), int(x+c.U(40)), int(mid+c.U(6)))
		c.Fill(q, c.Pal.Well)
		half := q
		half.Max.X -= q.Dx() / 2
		c.FillMask(half, paint.Blown, false)
		half.Min.X, half.Max.X = half.Max.X, q.Max.X
		c.FillMask(half, paint.Blocked, false)
		x += c.U(40)
		word("flat", far)
	}
	for _, v := range []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks} {
		row.VerdictMark(c, image.Rect(int(x), r.Min.Y, int(x+c.U(22)), r.Max.Y), v)
		x += c.U(22)
		after := near
		if v == roll.Breaks {
			after = far
		}
		word(row.VerdictWord(v), after)
	}
	if in.Range != nil {
		c.Fill(image.Rect(int(x), int(mid-c.U(2.5)), int(x+c.U(24)), int(mid+c.U(2.5))), c.Pal.Judge)
		x += c.U(24)
		word("judge's range", near)
	}
	if row.MeasuredRange(in.Measured) != nil {
		c.HLine(int(x), int(x+c.U(24)), int(mid), 2.5, c.Pal.White)
		x += c.U(24)
		word("measured range", near)
	}
	if stopsMeasured {
		x += c.U(2)
		row.MeasuredMark(c, x, mid)
		x += c.U(6)
		word("measured stop", near)
	}
	return x
}
