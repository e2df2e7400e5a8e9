package plot

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/response"
	"stopladder/analysis/show/paint"
)

// invented is a plot over the true curves of an invented stock; nothing in it is
// measured. Landmarks are taken from the slopes of those curves.
func invented(stock simulate.Stock, lo, hi float64, stops ...float64) Data {
	k := &response.Curve{MidGrey: response.MidGreyMetered}
	n := int(math.Round((hi - lo) / 0.02))
	for i := range n + 1 {
		k.LogE = append(k.LogE, lo+0.02*float64(i))
	}
	d := Data{Roll: "Courtyard", Curve: k}
	for c := range 3 {
		a, b := lo+0.04*float64(c), hi-0.05*float64(2-c)
		slope := make([]float64, n+1)
		for i, x := range k.LogE {
			k.Density[c], k.Sigma[c] = append(k.Density[c], math.NaN()), append(k.Sigma[c], math.NaN())
			if x < a || x > b {
				continue
			}
			f := func(x float64) float64 {
				v := stock.Density(c, x)
				if stock.Kind == simulate.NegativeFilm {
					v = 1.75*(stock.Layers[c].Dmax-v) - 1.2 // a positive, as the lab inverts it
					v = 0.5 + v*0.55
				}
				return v
			}
			k.Density[c][i], k.Sigma[c][i] = f(x), 0.008+0.02*x*x/2
			slope[i] = (f(x-0.01) - f(x+0.01)) / 0.02
		}
		ch := &k.Channels[c]
		ch.Covered = [2]float64{a, b}
		top := 0
		for i := range slope {
			if slope[i] > slope[top] {
				top = i
			}
		}
		ch.Gamma, ch.GammaAt = slope[top], k.LogE[top]
		walk := func(share float64, dir int) (float64, bool) {
			i := top
			for i+dir >= 0 && i+dir < len(slope) && slope[i+dir] > 0 {
				if i += dir; slope[i] < share*ch.Gamma {
					return k.LogE[i], false
				}
			}
			return k.LogE[i], true
		}
		ch.Straight[0], _ = walk(response.StraightShare, -1)
		ch.Straight[1], _ = walk(response.StraightShare, 1)
		ch.Useful[0], ch.UsefulOpen[0] = walk(response.FlatShare, -1)
		ch.Useful[1], ch.UsefulOpen[1] = walk(response.FlatShare, 1)
		ch.UsefulStops = (ch.Useful[1] - ch.Useful[0]) / math.Log10(2)
	}
	for i, s := range stops {
		m, e := s+0.03*float64(i%3-1), 0.02+0.004*s*s
		d.Frames = append(d.Frames, Frame{Stop: s, Labelled: true, Measured: &m, Error: &e})
	}
	d.Ceiling, d.Floor = [3]float64{0.009, 0.009, 0.009}, [3]float64{2.9, 2.9, 2.9}
	return d
}

func reversal() Data {
	return invented(simulate.Reversal(), -1.7, 1.4, -3, -2, -1, 0, 1, 2, 3, 4)
}

func negative() Data {
	return invented(simulate.Negative(), -1.9, 2.2, -3, -2, -1, 0, 1, 2, 3, 4)
}

// odd has a wrong label, thirds, an unlabelled frame and one without a measure.
func odd() Data {
	d := invented(simulate.Reversal(), -1.2, 0.9, -2, -1, -1.0/3, 0, 1.0/3, 1, 2)
	wrong, off := 1.55, -0.86
	d.Frames[5].Measured, d.Frames[1].Measured = &wrong, &off
	d.Frames[6].Measured = nil
	d.Frames[2].Labelled, d.Frames[2].Name = false, "scan 7"
	d.Ceiling = [3]float64{0.01, 0.08, 0.2}
	return d
}

func kinds() map[string]Data {
	grey := reversal()
	grey.Grey = true
	two := reversal()
	k := *two.Curve
	k.Density[1], k.Sigma[1] = nil, nil
	two.Curve = &k
	refused := Data{Reason: "The frames have nothing in common that is registered, so no response can be measured; check that all scans show one scene."}
	return map[string]Data{"reversal": reversal(), "negative": negative(), "odd": odd(), "grey": grey, "two": two, "refused": refused, "none": {}}
}

// TestLook draws pictures to be looked at when STOPLADDER_LOOK names a folder.
func TestLook(t *testing.T) {
	dir := os.Getenv("STOPLADDER_LOOK")
	if dir == "" {
		t.Skip("STOPLADDER_LOOK names no folder to draw into")
	}
	save := func(name string, img image.Image) {
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(dir+"/"+name+".png", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, d := range kinds() {
		for _, s := range [][3]int{{220, 160, 1}, {360, 260, 1}, {560, 400, 1}, {760, 420, 1}, {1120, 800, 2}, {2400, 1600, 1}, {2400, 1600, 2}} {
			img := image.NewRGBA(image.Rect(0, 0, s[0], s[1]))
			c := paint.New(img, float64(s[2]))
			Draw(c, img.Rect, d, Options{Hover: s[0] == 560 || s[0] == 220, HoverX: s[0] * 7 / 12})
			save(fmt.Sprintf("%s-%dx%d-%d", name, s[0], s[1], s[2]), img)
		}
		var b bytes.Buffer
		if err := SVG(&b, d, 900, 560, nil); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(dir+"/"+name+".svg", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
