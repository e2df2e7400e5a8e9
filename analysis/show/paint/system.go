package paint

import (
	"bytes"
	"cmp"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/go-text/typesetting/di"
	gofont "github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/fontscan"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"stopladder/analysis/numeric/legible"
	"stopladder/assets"
)

// What the built-in type does not have is set in a font of the system that has it: every
// script, shaped and in its direction of writing. Where no font has a character its code
// is written instead, so that nobody's words are dropped.

// system knows the fonts of the system; type_ is locked around all of it.
var system struct {
	looked bool
	fonts  []fontscan.Footprint
	loaded map[fontscan.Location]*gofont.Face // nil: it cannot be used
	had    map[rune]*gofont.Face              // nil: no font has it
	plain  [2]*gofont.Face                    // the built-in type, for shaping beside the others
	shaper shaping.HarfbuzzShaper
	parts  shaping.Segmenter
}

// fontsOf returns the fonts of the system; tests put their own in.
var fontsOf = func() []fontscan.Footprint {
	dir, err := os.UserCacheDir() // the index of the fonts is kept, since reading them all takes seconds
	if err == nil {
		dir = filepath.Join(dir, "stopladder")
		err = os.MkdirAll(dir, 0o700)
	}
	if err != nil {
		dir = os.TempDir()
	}
	fonts, err := fontscan.SystemFonts(silent{}, dir)
	if err != nil {
		return nil // then codes are written
	}
	return fonts
}

// silent takes what fontscan tells of its search.
type silent struct{}

func (silent) Printf(string, ...any) {}

// faceOf returns a font of the system that has a character as an outline, nil where there
// is none. Upright sans serif of ordinary weight comes first.
func faceOf(r rune) *gofont.Face {
	if f, ok := system.had[r]; ok {
		return f
	}
	if !system.looked {
		system.looked, system.fonts = true, fontsOf()
		system.loaded, system.had = map[fontscan.Location]*gofont.Face{}, map[rune]*gofont.Face{}
		slices.SortStableFunc(system.fonts, func(a, b fontscan.Footprint) int {
			return cmp.Or(cmp.Compare(unlike(a), unlike(b)), cmp.Compare(a.Family, b.Family), cmp.Compare(a.Location.File, b.Location.File))
		})
	}
	var found *gofont.Face
	for _, p := range system.fonts {
		if !p.Runes.Contains(r) {
			continue
		}
		if f := loadFace(p.Location); f != nil && drawn(f, r) {
			found = f
			break
		}
	}
	system.had[r] = found
	return found
}

// unlike says how unlike the built-in type a font is.
func unlike(p fontscan.Footprint) (n int) {
	if p.Aspect.Style != gofont.StyleNormal {
		n += 4
	}
	if p.Aspect.Weight < 350 || p.Aspect.Weight > 550 {
		n += 2
	}
	if !strings.Contains(p.Family, "sans") && !strings.Contains(p.Family, "hei") && !strings.Contains(p.Family, "gothic") {
		n++
	}
	if strings.Contains(p.Family, "mono") || strings.Contains(p.Family, "condensed") {
		n++
	}
	return n
}

func loadFace(at fontscan.Location) *gofont.Face {
	f, ok := system.loaded[at]
	if ok {
		return f
	}
	if b, err := os.ReadFile(at.File); err == nil {
		if all, err := gofont.ParseTTC(bytes.NewReader(b)); err == nil && int(at.Index) < len(all) {
			f = all[at.Index]
		}
	}
	system.loaded[at] = f
	return f
}

// drawn reports whether a font has a character, and as an outline: pictures of characters
// in colours are not drawn here.
func drawn(f *gofont.Face, r rune) bool {
	gid, ok := f.NominalGlyph(r)
	if !ok || gid == 0 {
		return false
	}
	_, ok = f.GlyphData(gid).(gofont.GlyphOutline)
	return ok
}

// has reports whether the built-in type has a character.
func (f *face) has(r rune) bool {
	if r < 0x7f {
		return true
	}
	known, ok := f.own[r]
	if !ok {
		i, err := f.font.GlyphIndex(&f.buf, r)
		known = err == nil && i != 0
		f.own[r] = known
	}
	return known
}

// simple reports whether the built-in type has all of a text.
func (f *face) simple(s string) bool {
	for _, r := range s {
		if !f.has(r) {
			return false
		}
	}
	return true
}

// Lacking returns the characters of texts that no font has, each once: they are drawn as
// codes.
func Lacking(texts ...string) string {
	type_.Lock()
	defer type_.Unlock()
	f := faceFor(Regular, 12)
	var out []rune
	for _, s := range texts {
		for _, r := range legible.Line(s) {
			if !f.has(r) && faceOf(r) == nil && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	return string(out)
}

// coded writes the codes of what no font has in its place.
func (f *face) coded(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return !f.has(r) && faceOf(r) == nil }) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if f.has(r) || faceOf(r) != nil {
			b.WriteRune(r)
		} else {
			b.WriteString(legible.Code(r))
		}
	}
	return b.String()
}

// set is a text as it is set: glyphs from left to right, with the place of each.
type set struct {
	glyphs []setGlyph
	width  fixed.Int26_6
}

type setGlyph struct {
	face *gofont.Face
	id   gofont.GID
	x, y fixed.Int26_6 // of its origin against the text's left end on the baseline; y grows downward
}

// mostSets bounds what is kept of set texts.
const mostSets = 512

// ResolveFace returns the font of a character: the built-in type where that has it.
func (f *face) ResolveFace(r rune) *gofont.Face {
	if !f.has(r) {
		if g := faceOf(r); g != nil {
			return g
		}
	}
	if system.plain[f.weight] == nil {
		data := assets.FontRegular
		if f.weight == Medium {
			data = assets.FontMedium
		}
		g, err := gofont.ParseTTF(bytes.NewReader(data))
		if err != nil {
			panic("paint: the built-in font does not parse: " + err.Error()) // a broken build, covered by the tests
		}
		system.plain[f.weight] = g
	}
	return system.plain[f.weight]
}

// lay sets a text that the built-in type does not have all of.
func (f *face) lay(s string) *set {
	if t, ok := f.sets[s]; ok {
		return t
	}
	text := []rune(f.coded(s))
	in := shaping.Input{Text: text, RunEnd: len(text), Direction: direction(text), Size: f.px, Language: language.DefaultLanguage()}
	var runs []shaping.Output
	for _, part := range system.parts.Split(in, f) {
		runs = append(runs, system.shaper.Shape(part))
	}
	var lines shaping.LineWrapper
	wrapped, _ := lines.WrapParagraph(shaping.WrapConfig{Direction: in.Direction, DisableTrailingWhitespaceTrim: true}, 1<<24, text, shaping.NewSliceIterator(runs))
	t := &set{}
	for _, line := range wrapped { // one: nothing in it ends a line
		line = slices.Clone(line)
		slices.SortStableFunc(line, func(a, b shaping.Output) int { return cmp.Compare(a.VisualIndex, b.VisualIndex) })
		for _, run := range line {
			for _, g := range run.Glyphs {
				t.glyphs = append(t.glyphs, setGlyph{run.Face, g.GlyphID, t.width + g.XOffset, -g.YOffset})
				t.width += g.Advance
			}
		}
	}
	if len(f.sets) >= mostSets {
		clear(f.sets)
	}
	f.sets[s] = t
	return t
}

// direction returns the direction of writing of the first character that has one.
func direction(text []rune) di.Direction {
	for _, r := range text {
		switch language.LookupScript(r) {
		case language.Hebrew, language.Arabic, language.Syriac, language.Thaana, language.Nko, language.Adlam:
			return di.DirectionRTL
		case language.Common, language.Inherited, language.Unknown:
			continue
		}
		return di.DirectionLTR
	}
	return di.DirectionLTR
}

// outlineKey names a glyph of a font of the system at a position inside a pixel.
type outlineKey struct {
	face *gofont.Face
	id   gofont.GID
	sub  uint8
}

// outline returns the glyph of a set text as a mask, nil for one without ink.
func (f *face) outline(k outlineKey) *glyph {
	if g, ok := f.outlines[k]; ok {
		return g
	}
	var out *glyph
	if o, ok := k.face.GlyphData(k.id).(gofont.GlyphOutline); ok && len(o.Segments) > 0 {
		out = rasterised(o.Segments, float32(f.px)/64/float32(k.face.Upem()), float32(k.sub)/subpix)
	}
	f.outlines[k] = out
	return out
}

// rasterised draws segments in units of a font, times scale, from a dot that lies dx
// pixels into its pixel.
func rasterised(segments []gofont.Segment, scale, dx float32) *glyph {
	x0, y0, x1, y1 := float32(math.Inf(1)), float32(math.Inf(1)), float32(math.Inf(-1)), float32(math.Inf(-1))
	at := func(p gofont.SegmentPoint) (x, y float32) { return p.X*scale + dx, -p.Y * scale }
	for _, s := range segments {
		for _, p := range s.ArgsSlice() {
			x, y := at(p)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
	}
	left, top := int(math.Floor(float64(x0))), int(math.Floor(float64(y0)))
	w, h := int(math.Ceil(float64(x1)))-left, int(math.Ceil(float64(y1)))-top
	if w <= 0 || h <= 0 || w > maxGlyph || h > maxGlyph {
		return nil
	}
	z := vector.NewRasterizer(w, h)
	in := func(p gofont.SegmentPoint) (x, y float32) {
		x, y = at(p)
		return x - float32(left), y - float32(top)
	}
	for _, s := range segments {
		x, y := in(s.Args[0])
		switch s.Op {
		case opentype.SegmentOpMoveTo:
			z.ClosePath()
			z.MoveTo(x, y)
		case opentype.SegmentOpLineTo:
			z.LineTo(x, y)
		case opentype.SegmentOpQuadTo:
			bx, by := in(s.Args[1])
			z.QuadTo(x, y, bx, by)
		case opentype.SegmentOpCubeTo:
			bx, by := in(s.Args[1])
			cx, cy := in(s.Args[2])
			z.CubeTo(x, y, bx, by, cx, cy)
		}
	}
	z.ClosePath()
	mask := image.NewAlpha(image.Rect(0, 0, w, h))
	z.Draw(mask, mask.Bounds(), image.Opaque, image.Point{})
	return &glyph{off: image.Pt(left, top), w: w, h: h, pix: mask.Pix}
}

// maxGlyph bounds a glyph of a font of the system, in pixels: fonts are files too.
const maxGlyph = 4096

// stampSet draws a set text from a dot on the baseline.
func (c *Canvas) stampSet(f *face, t *set, dot fixed.Int26_6, base int, st Style) {
	for _, g := range t.glyphs {
		q := (int(dot+g.x) + 64/subpix/2) * subpix >> 6
		if m := f.outline(outlineKey{g.face, g.id, uint8(q & 3)}); m != nil {
			c.stamp(m, q>>2, base+g.y.Round(), st.Col)
		}
	}
}

// Path is a part of an outline: Op is 'M', 'L', 'C' (cubic) or 'Z'.
type Path struct {
	Op  byte
	Pts [3][2]float64
}

// Simple reports whether the built-in type has all of a text.
func Simple(s string) bool {
	type_.Lock()
	defer type_.Unlock()
	return faceFor(Regular, 12).simple(legible.Line(s))
}

// Outlines returns a text as outlines, and its width, in units of the style's size with y
// downward from the baseline: for formats that carry the built-in type alone.
func Outlines(s string, st Style) (paths []Path, width float64) {
	type_.Lock()
	defer type_.Unlock()
	const em = 256 // pixels: what is set at it is as good as without a raster
	f := faceFor(st.Weight, em)
	t := f.lay(legible.Line(s))
	unit := st.Size / em
	for _, g := range t.glyphs {
		o, ok := g.face.GlyphData(g.id).(gofont.GlyphOutline)
		if !ok {
			continue
		}
		scale := st.Size / float64(g.face.Upem())
		var last [2]float64
		in := func(p gofont.SegmentPoint) [2]float64 {
			return [2]float64{float64(g.x)/64*unit + float64(p.X)*scale, float64(g.y)/64*unit - float64(p.Y)*scale}
		}
		open := false
		for _, s := range o.Segments {
			a := in(s.Args[0])
			switch s.Op {
			case opentype.SegmentOpMoveTo:
				if open {
					paths = append(paths, Path{Op: 'Z'})
				}
				open, last = true, a
				paths = append(paths, Path{'M', [3][2]float64{a}})
			case opentype.SegmentOpLineTo:
				last = a
				paths = append(paths, Path{'L', [3][2]float64{a}})
			case opentype.SegmentOpQuadTo: // as a cubic: the control points two thirds of the way
				b := in(s.Args[1])
				p, q := towards(last, a), towards(b, a)
				last = b
				paths = append(paths, Path{'C', [3][2]float64{p, q, b}})
			case opentype.SegmentOpCubeTo:
				last = in(s.Args[2])
				paths = append(paths, Path{'C', [3][2]float64{a, in(s.Args[1]), last}})
			}
		}
		if open {
			paths = append(paths, Path{Op: 'Z'})
		}
	}
	return paths, float64(t.width) / 64 * unit
}

// towards returns the point two thirds of the way from p to q.
func towards(p, q [2]float64) [2]float64 {
	return [2]float64{p[0] + 2*(q[0]-p[0])/3, p[1] + 2*(q[1]-p[1])/3}
}
