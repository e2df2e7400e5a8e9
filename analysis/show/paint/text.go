package paint

import (
	"image"
	"image/color"
	"math"
	"sort"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"stopladder/analysis/numeric/legible"
	"stopladder/assets"
)

// Weight of the type.
type Weight int

// The two weights that are carried.
const (
	Regular Weight = iota
	Medium
)

// Align is where a text stands against its position or box.
type Align int

// Alignments.
const (
	Left Align = iota
	Right
	Centre
)

// Style says how a text is set.
type Style struct {
	Size   float64 // units, the em
	Weight Weight
	Align  Align
	Col    color.NRGBA
}

// Sized returns the style at another size in units.
func (s Style) Sized(units float64) Style { s.Size = units; return s }

// Aligned returns the style with another alignment.
func (s Style) Aligned(a Align) Style { s.Align = a; return s }

// Tinted returns the style in another colour.
func (s Style) Tinted(col color.NRGBA) Style { s.Col = col; return s }

// Bold returns the style in Medium, the heavier of the two weights.
func (s Style) Bold() Style { s.Weight = Medium; return s }

// subpix is how many horizontal positions inside a pixel a glyph is kept for.
const subpix = 4

// capOverEm is the height of capitals and figures of both weights over the em:
// the OS/2 table says 1456 of 2048.
const capOverEm = 1456.0 / 2048

// maxFaces bounds the cache: a window uses a dozen sizes, a resized sheet as
// many again.
const maxFaces = 96

type faceKey struct {
	w  Weight
	px fixed.Int26_6
}

type glyphKey struct {
	r   rune
	sub uint8
}

type glyph struct {
	off  image.Point // of the mask against the dot's pixel
	w, h int
	pix  []uint8 // w*h coverage
}

type face struct {
	f       font.Face
	font    *opentype.Font
	px      fixed.Int26_6 // the em
	buf     sfnt.Buffer
	glyphs  map[glyphKey]*glyph
	advance map[rune]fixed.Int26_6
	kern    map[[2]rune]fixed.Int26_6

	weight   Weight
	own      map[rune]bool // what the built-in type has
	sets     map[string]*set
	outlines map[outlineKey]*glyph
}

var type_ struct {
	sync.Mutex
	fonts [2]*opentype.Font
	faces map[faceKey]*face
}

// faceFor returns the cached face; type_ is locked.
func faceFor(w Weight, px float64) *face {
	if w != Medium {
		w = Regular
	}
	if !(px >= 1) {
		px = 1
	}
	px = math.Min(px, 2000)
	k := faceKey{w, fixed.Int26_6(math.Round(px * 64))}
	if f := type_.faces[k]; f != nil {
		return f
	}
	if type_.fonts[w] == nil {
		data := assets.FontRegular
		if w == Medium {
			data = assets.FontMedium
		}
		f, err := opentype.Parse(data)
		if err != nil {
			panic("ink: the built-in font does not parse: " + err.Error()) // a broken build, covered by the tests
		}
		type_.fonts[w] = f
	}
	of, err := opentype.NewFace(type_.fonts[w], &opentype.FaceOptions{Size: float64(k.px) / 64, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("ink: the built-in font has no face: " + err.Error())
	}
	if type_.faces == nil || len(type_.faces) >= maxFaces {
		type_.faces = map[faceKey]*face{}
	}
	f := &face{f: of, font: type_.fonts[w], px: k.px, glyphs: map[glyphKey]*glyph{}, advance: map[rune]fixed.Int26_6{}, kern: map[[2]rune]fixed.Int26_6{},
		weight: w, own: map[rune]bool{}, sets: map[string]*set{}, outlines: map[outlineKey]*glyph{}}
	type_.faces[k] = f
	return f
}

func (f *face) adv(r rune) fixed.Int26_6 {
	a, ok := f.advance[r]
	if !ok {
		a, _ = f.f.GlyphAdvance(r)
		f.advance[r] = a
	}
	return a
}

func (f *face) kerning(a, b rune) fixed.Int26_6 {
	if a == 0 || digit(a) && digit(b) {
		return 0
	}
	k, ok := f.kern[[2]rune{a, b}]
	if !ok {
		k = f.kernOf(a, b)
		f.kern[[2]rune{a, b}] = k
	}
	return k
}

// kernOf asks the font itself: opentype.Face.Kern of x/image v0.47 returns the
// kerning of an em of 32 pixels at every size.
func (f *face) kernOf(a, b rune) fixed.Int26_6 {
	i, err := f.font.GlyphIndex(&f.buf, a)
	if err != nil {
		return 0
	}
	j, err := f.font.GlyphIndex(&f.buf, b)
	if err != nil {
		return 0
	}
	k, err := f.font.Kern(&f.buf, i, j, f.px, font.HintingNone)
	if err != nil {
		return 0 // sfnt.ErrNotFound: no kerning for the pair
	}
	return k
}

// digit: figures are never kerned against each other, so that columns align.
func digit(r rune) bool { return r >= '0' && r <= '9' }

func (f *face) glyph(r rune, sub uint8) *glyph {
	k := glyphKey{r, sub}
	if g, ok := f.glyphs[k]; ok {
		return g
	}
	var g *glyph
	dot := fixed.Point26_6{X: fixed.Int26_6(int(sub) * 64 / subpix)}
	if dr, mask, mp, _, ok := f.f.Glyph(dot, r); ok && !dr.Empty() {
		g = &glyph{off: dr.Min, w: dr.Dx(), h: dr.Dy(), pix: make([]uint8, dr.Dx()*dr.Dy())}
		for y := 0; y < g.h; y++ {
			for x := 0; x < g.w; x++ {
				_, _, _, a := mask.At(mp.X+x, mp.Y+y).RGBA()
				g.pix[y*g.w+x] = uint8(a >> 8)
			}
		}
	}
	f.glyphs[k] = g
	return g
}

// width returns the width of a text that is legible already.
func (f *face) width(s string) fixed.Int26_6 {
	if !f.simple(s) {
		return f.lay(s).width
	}
	var w fixed.Int26_6
	prev := rune(0)
	for _, r := range s {
		w += f.kerning(prev, r) + f.adv(r)
		prev = r
	}
	return w
}

// Width returns the width of s in device pixels.
func (c *Canvas) Width(s string, st Style) float64 {
	type_.Lock()
	defer type_.Unlock()
	return float64(faceFor(st.Weight, c.U(st.Size)).width(legible.Line(s))) / 64
}

// Cap returns the height of capitals and figures in device pixels.
func (c *Canvas) Cap(st Style) float64 { return c.U(st.Size) * capOverEm }

// Ellipsis shortens s to at most width device pixels, ending in "…" where it
// had to be cut; it returns "" when not even that fits.
func (c *Canvas) Ellipsis(s string, st Style, width float64) string {
	type_.Lock()
	defer type_.Unlock()
	return ellipsis(faceFor(st.Weight, c.U(st.Size)), legible.Line(s), width)
}

func ellipsis(f *face, s string, width float64) string {
	limit := fixed.Int26_6(math.Floor(width * 64))
	if !(width > 0) {
		return ""
	}
	if f.width(s) <= limit {
		return s
	}
	dots := f.adv('…')
	if dots > limit {
		return ""
	}
	if !f.simple(s) {
		text := []rune(s)
		n := sort.Search(len(text), func(n int) bool { return f.width(string(text[:n+1])+"…") > limit })
		return strings.TrimRight(string(text[:n]), " ") + "…"
	}
	var w fixed.Int26_6
	prev, end := rune(0), 0
	for i, r := range s {
		w += f.kerning(prev, r) + f.adv(r)
		if w+f.kerning(r, '…')+dots > limit {
			break
		}
		prev, end = r, i+len(string(r))
	}
	for end > 0 && s[end-1] == ' ' {
		end--
	}
	return s[:end] + "…"
}

// Text draws s with its baseline at y and its left edge, right edge or centre
// at x, and returns its width in device pixels.
func (c *Canvas) Text(x, y float64, s string, st Style) float64 {
	s = legible.Line(s)
	type_.Lock()
	defer type_.Unlock()
	f := faceFor(st.Weight, c.U(st.Size))
	w := f.width(s)
	dot := fixed.Int26_6(math.Round(x * 64))
	switch st.Align {
	case Right:
		dot -= w
	case Centre:
		dot -= w / 2
	}
	base := int(math.Round(y))
	if !f.simple(s) {
		c.stampSet(f, f.lay(s), dot, base, st)
		return float64(w) / 64
	}
	prev := rune(0)
	for _, r := range s {
		dot += f.kerning(prev, r)
		q := (int(dot) + 64/subpix/2) * subpix >> 6 // nearest kept position
		px, sub := q>>2, q&3
		if g := f.glyph(r, uint8(sub)); g != nil {
			c.stamp(g, px, base, st.Col)
		}
		dot += f.adv(r)
		prev = r
	}
	return float64(w) / 64
}

func (c *Canvas) stamp(g *glyph, x, y int, col color.NRGBA) {
	r := image.Rect(x+g.off.X, y+g.off.Y, x+g.off.X+g.w, y+g.off.Y+g.h)
	v := r.Intersect(c.clip)
	for py := v.Min.Y; py < v.Max.Y; py++ {
		row := g.pix[(py-r.Min.Y)*g.w:]
		o := c.Img.PixOffset(v.Min.X, py)
		for px := v.Min.X; px < v.Max.X; px++ {
			if a := uint32(row[px-r.Min.X]); a > 0 {
				over(c.Img.Pix[o:o+4:o+4], col, a*uint32(col.A)/255)
			}
			o += 4
		}
	}
}

// TextIn draws s inside r, its capitals centred in height, shortened to r's
// width, and returns the width drawn in device pixels.
func (c *Canvas) TextIn(r image.Rectangle, s string, st Style) float64 {
	if r.Empty() {
		return 0
	}
	s = c.Ellipsis(s, st, float64(r.Dx()))
	if s == "" {
		return 0
	}
	y := math.Round(float64(r.Min.Y+r.Max.Y)/2 + c.Cap(st)/2)
	switch st.Align {
	case Right:
		return c.Text(float64(r.Max.X), y, s, st)
	case Centre:
		return c.Text(float64(r.Min.X+r.Max.X)/2, y, s, st)
	}
	return c.Text(float64(r.Min.X), y, s, st)
}

// Wrap breaks s into lines of at most width device pixels, at spaces where
// possible; at most lines of them (0: no limit), the last one shortened.
func (c *Canvas) Wrap(s string, st Style, width float64, lines int) []string {
	type_.Lock()
	defer type_.Unlock()
	f := faceFor(st.Weight, c.U(st.Size))
	if !(width > 0) {
		return nil
	}
	limit := fixed.Int26_6(width * 64)
	var out []string
	s = legible.Text(s)
	simple := f.simple(strings.ReplaceAll(s, "\n", " "))
	rest := []rune(s)
	for len(rest) > 0 {
		for len(rest) > 0 && rest[0] == ' ' {
			rest = rest[1:]
		}
		if len(rest) == 0 {
			break
		}
		if lines > 0 && len(out) == lines-1 {
			if t := ellipsis(f, string(rest), width); t != "" {
				out = append(out, t)
			}
			break
		}
		var w fixed.Int26_6
		prev, n, space := rune(0), 0, 0
		for n < len(rest) && rest[n] != '\n' {
			q := rest[n]
			if simple {
				w += f.kerning(prev, q) + f.adv(q)
			} else {
				w = f.width(string(rest[:n+1]))
			}
			if w > limit {
				break
			}
			if rest[n] == ' ' {
				space = n
			}
			prev = q
			n++
		}
		end := n
		if n < len(rest) && rest[n] != '\n' && rest[n] != ' ' && space > 0 {
			end = space
		}
		end = max(end, 1)
		out = append(out, string(rest[:end]))
		rest = rest[end:]
		if len(rest) > 0 && rest[0] == '\n' {
			rest = rest[1:]
		}
	}
	return out
}
