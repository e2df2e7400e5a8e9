package theme

import (
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"stopladder/assets"
)

// The font must stay a font, with the same letters and more room below them.
func TestRoomyChangesLinesOnly(t *testing.T) {
	read := func(b []byte) (f *sfnt.Font, m font.Metrics, wide fixed.Int26_6) {
		f, err := sfnt.Parse(b)
		if err != nil {
			t.Fatal(err)
		}
		m, err = f.Metrics(nil, fixed.I(1024), font.HintingNone)
		if err != nil {
			t.Fatal(err)
		}
		g, err := f.GlyphIndex(nil, 'g')
		if err != nil {
			t.Fatal(err)
		}
		if wide, err = f.GlyphAdvance(nil, g, fixed.I(1024), font.HintingNone); err != nil {
			t.Fatal(err)
		}
		return f, m, wide
	}
	_, was, w := read(assets.FontRegular)
	_, now, v := read(roomy(assets.FontRegular))
	if now.Descent-was.Descent != fixed.I(64) || now.Ascent != was.Ascent || v != w {
		t.Errorf("descent %v to %v, ascent %v to %v, g is %v wide and was %v", was.Descent, now.Descent, was.Ascent, now.Ascent, v, w)
	}
	if got := roomy([]byte("no font")); string(got) != "no font" {
		t.Errorf("what is no font became %q", got)
	}
}
