package render

import (
	"context"
	"errors"
	"image"
	"slices"
	"sync"
	"testing"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// slowSource is a decoder that can only stream, counts what it does and can be
// held up.
type slowSource struct {
	*scan.Pixels
	gate    chan struct{} // nil: never waits
	mu      sync.Mutex
	started int
	ended   int
}

func (s *slowSource) Stream(ctx context.Context, fn func(int, []uint16) error) error {
	s.mu.Lock()
	s.started++
	s.mu.Unlock()
	if s.gate != nil {
		select {
		case <-s.gate:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	err := s.Pixels.Stream(ctx, fn)
	s.mu.Lock()
	s.ended++
	s.mu.Unlock()
	return err
}

func (s *slowSource) counts() (started, ended int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.started, s.ended
}

type regional struct {
	*slowSource
	regions int
	largest int // pixels of the largest region
}

func (r *regional) ReadsRegions() bool { return true }
func (r *regional) Region(ctx context.Context, b image.Rectangle) ([]uint16, error) {
	r.regions++
	r.largest = max(r.largest, b.Dx()*b.Dy())
	return r.Pixels.Region(ctx, b)
}

type bench struct {
	d       *Detailer
	results chan DetailResult
}

func newBench(t *testing.T, budget int64) *bench {
	b := &bench{results: make(chan DetailResult, 100)}
	b.d = NewDetailer(budget, func(r DetailResult) { b.results <- r })
	t.Cleanup(b.d.Close)
	return b
}

func (b *bench) wait(t *testing.T) DetailResult {
	t.Helper()
	select {
	case r := <-b.results:
		return r
	case <-time.After(2 * time.Minute):
		t.Fatal("no result")
	}
	return DetailResult{}
}

func (b *bench) none(t *testing.T) {
	t.Helper()
	select {
	case r := <-b.results:
		t.Fatalf("unexpected result for %v: %v", r.Key, r.Err)
	case <-time.After(30 * time.Millisecond):
	}
}

func until(t *testing.T, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(2 * time.Minute); !ok(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("waited in vain")
		}
	}
}

func opening(s scan.Source) func() (scan.Source, error) {
	return func() (scan.Source, error) { return s, nil }
}

func request(key any, s scan.Source, l *measure.Look, r image.Rectangle, step, priority int) DetailRequest {
	return DetailRequest{Key: key, Open: opening(s), Look: l, Rect: r, Step: step, Priority: priority}
}

func TestDetailerReadsTheFilesCodes(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	r := image.Rect(40, 30, 120, 90)
	for name, src := range map[string]scan.Source{
		"in memory": px,
		"streaming": &slowSource{Pixels: px},
		"regional":  &regional{slowSource: &slowSource{Pixels: px}},
	} {
		for _, budget := range []int64{100 << 20, 500_000} { // the whole is 360 kB: held, and too large to hold
			b := newBench(t, budget)
			if d := b.d.Request(request(1, src, l, r, 1, 0)); d != nil {
				t.Fatalf("%s: a detail before anything was read", name)
			}
			res := b.wait(t)
			if res.Err != nil || !res.Detail.Covers(r) || res.Look != l {
				t.Fatalf("%s: %+v", name, res)
			}
			d := res.Detail
			want, _ := px.Region(context.Background(), d.Rect)
			if !slices.Equal(d.Pix, want) {
				t.Errorf("%s, budget %d: the codes are not the file's", name, budget)
			}
			if again := b.d.Request(request(1, src, l, r.Inset(5), 1, 0)); again != d {
				t.Errorf("%s: a part of what was read is not at hand", name)
			}
		}
	}
}

// Reduced details agree with the preview: the mean in light, in codes.
func TestDetailerReduces(t *testing.T) {
	px := testScan(90, 60)
	for i := range px.Pix { // black and white columns: half the light
		px.Pix[i] = uint16(i / 3 % 2 * 65535)
	}
	l := lookOf(px, 4, image.Rect(0, 0, 90, 60))
	b := newBench(t, 1<<20)
	b.d.Request(request("a", px, l, image.Rect(0, 0, 90, 60), 2, 0))
	d := b.wait(t).Detail
	if d.W != 45 || d.H != 30 || d.Step != 2 {
		t.Fatalf("%d x %d, step %d", d.W, d.H, d.Step)
	}
	// sRGB code of half the light (IEC 61966-2-1): 1.055 * 0.5^(1/2.4) - 0.055 = 0.735357.
	for _, v := range d.Pix {
		if v < 48190 || v > 48193 {
			t.Fatalf("half the light of white is code %d, want 48192", v)
		}
	}
	if d.BlownShare[0] != 127 || d.BlockedShare[0] != 127 {
		t.Errorf("shares are %d and %d, want 127 of 255", d.BlownShare[0], d.BlockedShare[0])
	}
}

func TestInverseTone(t *testing.T) {
	tone := lookOf(testScan(8, 8), 1, image.Rect(0, 0, 8, 8)).ColourSpace().Tone()
	v := newInverse(tone[0])
	for c := 0; c < len(tone[0]); c += 7 {
		if got := v.code(tone[0][c]); tone[0][got] != tone[0][c] {
			t.Fatalf("code %d came back as %d", c, got)
		}
	}
	if v.code(-1) != 0 || v.code(2) != 65535 || v.code(float32(nan())) != 0 {
		t.Error("light outside 0..1 is not clamped")
	}
}

func nan() float64 { z := 0.0; return z / z }

func TestDetailerHoldsWholePictures(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	src := &slowSource{Pixels: px}
	b := newBench(t, 10<<20)
	for _, r := range []image.Rectangle{image.Rect(0, 0, 50, 50), image.Rect(200, 100, 290, 190)} {
		b.d.Request(request(1, src, l, r, 1, 0))
		b.wait(t)
	}
	if n, _ := src.counts(); n != 1 {
		t.Errorf("the file was decoded %d times for two regions", n)
	}
	b.d.Forget(1)
	if now, _ := b.d.Used(); now != 0 {
		t.Errorf("%d bytes are held of a forgotten picture", now)
	}
}

func TestDetailerStaysInItsBudget(t *testing.T) {
	const budget = 1 << 20
	b := newBench(t, budget)
	for key := range 12 {
		px := testScan(300, 200)
		l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
		b.d.Request(request(key, &slowSource{Pixels: px}, l, image.Rect(0, 0, 200, 150), 1, 0))
		if res := b.wait(t); res.Err != nil {
			t.Fatal(res.Err)
		}
	}
	now, peak := b.d.Used()
	if peak > budget || now == 0 {
		t.Errorf("holds %d, at most %d bytes of %d", now, peak, budget)
	}
}

func TestDetailerNewestWins(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	src := &slowSource{Pixels: px, gate: make(chan struct{})}
	b := newBench(t, 400_000) // too little to hold the picture
	b.d.Request(request(1, src, l, image.Rect(0, 0, 20, 20), 1, 0))
	until(t, func() bool { n, _ := src.counts(); return n == 1 })
	for x := 100; x < 200; x += 10 {
		b.d.Request(request(1, src, l, image.Rect(x, 100, x+20, 120), 1, 0))
	}
	close(src.gate)
	res := b.wait(t)
	if res.Err != nil || !res.Detail.Covers(image.Rect(190, 100, 210, 120)) {
		t.Fatalf("the newest wish was not served: %+v", res)
	}
	b.none(t)
	if n, _ := src.counts(); n > 3 {
		t.Errorf("%d decodings were begun for ten stale wishes", n)
	}
}

func TestDetailerPriorities(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	low := &slowSource{Pixels: px, gate: make(chan struct{})}
	high := &slowSource{Pixels: px}
	b := newBench(t, 400_000)
	r := image.Rect(0, 0, 40, 40)
	b.d.Request(request("low", low, l, r, 1, 1))
	until(t, func() bool { n, _ := low.counts(); return n == 1 })
	b.d.Request(request("lowest", high, l, r, 1, 0))
	b.d.Request(request("high", high, l, r, 1, 9)) // interrupts
	if res := b.wait(t); res.Key != "high" {
		t.Fatalf("%v came first", res.Key)
	}
	close(low.gate)
	if res := b.wait(t); res.Key != "low" || res.Err != nil {
		t.Fatalf("the interrupted wish came back as %v, %v", res.Key, res.Err)
	}
	if res := b.wait(t); res.Key != "lowest" {
		t.Fatalf("%v came last", res.Key)
	}
}

func TestDetailerCancels(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	src := &slowSource{Pixels: px, gate: make(chan struct{})}
	b := newBench(t, 400_000)
	r := image.Rect(0, 0, 40, 40)
	b.d.Request(request(1, src, l, r, 1, 0))
	until(t, func() bool { n, _ := src.counts(); return n == 1 })
	b.d.Request(request(2, src, l, r, 1, 0))
	b.d.Only(3)
	b.none(t)
	if n, ended := src.counts(); n != 1 || ended != 0 {
		t.Errorf("%d decodings begun, %d ended", n, ended)
	}
	b.d.Request(request(4, src, l, r, 1, 0))
	until(t, func() bool { n, _ := src.counts(); return n == 2 })
	b.d.Close() // with work under way
	b.none(t)
	if d := b.d.Request(request(5, src, l, r, 1, 0)); d != nil {
		t.Error("a closed loader gave a detail")
	}
}

func TestDetailerBadFiles(t *testing.T) {
	px := testScan(300, 200)
	l := lookOf(px, 4, image.Rect(0, 0, 300, 200))
	b := newBench(t, 10<<20)

	boom := errors.New("boom")
	req := request(1, px, l, image.Rect(0, 0, 40, 40), 1, 0)
	req.Open = func() (scan.Source, error) { return nil, boom }
	b.d.Request(req)
	if res := b.wait(t); !errors.Is(res.Err, boom) || res.Detail != nil {
		t.Errorf("an unopened file gave %+v", res)
	}

	b.d.Request(request(2, testScan(30, 20), l, image.Rect(0, 0, 20, 20), 1, 0))
	var changed *ChangedError
	if res := b.wait(t); !errors.As(res.Err, &changed) {
		t.Errorf("a file of another size gave %+v", res)
	}

	short := &scan.Pixels{Header: px.Header, Pix: px.Pix[:3*300*101]}
	for i, src := range []scan.Source{short, &slowSource{Pixels: short}, &regional{slowSource: &slowSource{Pixels: short}}} {
		r := image.Rect(10, 80, 50, 150)
		b.d.Request(request(10+i, src, l, r, 2, 0))
		res := b.wait(t)
		if res.Err != nil || res.Detail.Rect.Max.Y != 101 || len(res.Detail.Pix) != 3*res.Detail.W*res.Detail.H {
			t.Fatalf("source %d: a file that ends at row 101 gave %+v", i, res)
		}
		if again := b.d.Request(request(10+i, src, l, r, 2, 0)); again != res.Detail {
			t.Errorf("source %d: what a truncated file lacks is asked for again", i)
		}
		b.d.Request(request(20+i, src, l, image.Rect(10, 180, 50, 200), 1, 0))
		var trunc *scan.TruncatedError
		if res := b.wait(t); !errors.As(res.Err, &trunc) {
			t.Errorf("source %d: rows that are not there gave %+v", i, res)
		}
	}
}

// A source that reads regions is never read whole: at 1:1 the part in sight and
// its margin, in reductions no more than a strip at a time.
func TestDetailerReadsRegionsOnly(t *testing.T) {
	px := testScan(3000, 2400)
	l := lookOf(px, 4, image.Rect(0, 0, 3000, 2400))
	src := &regional{slowSource: &slowSource{Pixels: px}}
	b := newBench(t, 400<<20)
	r := image.Rect(1000, 800, 1400, 1100)
	b.d.Request(request(1, src, l, r, 1, 0))
	d := b.wait(t).Detail
	if src.regions != 1 || d.Rect != image.Rect(900, 725, 1500, 1175) {
		t.Errorf("%d readings for %v, want one with a margin of a quarter", src.regions, d.Rect)
	}
	for i := range 6 {
		b.d.Request(request(2+i, src, l, image.Rect(0, 0, 3000, 2400), 2, 0))
		b.wait(t)
	}
	if src.largest > stripBytes/6 {
		t.Errorf("%d pixels read at a time", src.largest)
	}
	if started, _ := src.counts(); started != 0 {
		t.Error("a source that reads regions was streamed")
	}
	for _, e := range b.d.cache {
		if e.held != nil {
			t.Error("a whole picture is held")
		}
	}
}
