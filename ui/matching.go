package ui

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// checkMatching holds the labels that a plan beside the scans gave them against the
// measured stops, and offers the matching that these bear out better. The plan is
// read in the background.
func (w *Window) checkMatching() {
	sess := w.sess
	f := sess.Fitted
	if f == nil || f.Result == nil || len(f.Files) != len(f.Result.Frames) {
		return
	}
	var files []string
	var labels, measured []float64
	planned := false
	for i, file := range f.Files {
		k := sess.Index(file)
		if k < 0 {
			return // the roll has changed meanwhile
		}
		fr := sess.Roll.Frames[k]
		planned = planned || fr.Origin == roll.FromPlan
		m := math.NaN()
		if v := f.Result.Frames[i].MeasuredStop; v != nil {
			m = *v
		}
		files, labels, measured = append(files, file), append(labels, fr.Stop), append(measured, m)
	}
	if !planned {
		return
	}
	but := ""
	by, least := "By the measured stops", 1.0 // share of the misfit that must be left at most
	if known(measured) < 2 {
		// A roll that is labelled from its wrong end has no response, so no measured
		// stops; how light the pictures are tells the order all the same.
		var ok bool
		if measured, ok = w.brightness(files, labels); !ok {
			return
		}
		by, least = "By how light the pictures are", 0.5
		but = " (Scans of negatives that were left negative darken with exposure: then leave the labels as they are.)"
	}
	go func() {
		path, err := plan.Beside(files)
		if err != nil || path == "" {
			return // it lay there when the scans were opened; their labels stand
		}
		p, err := plan.Load(path)
		if err != nil {
			return
		}
		a, err := plan.Match(p, files, measured)
		if err != nil {
			return
		}
		better, was, ok := a.Better(labels, measured)
		ok = ok && *better.Misfit <= least*was
		w.do(func() {
			if w.sess != sess || sess.Fitted != f || !ok {
				return
			}
			w.notices.add(notice{id: "finding matching", text: fmt.Sprintf(
				"%s, %s fits better in another way: %s Off by %.2f stops so, by %.2f as the frames are labelled now.%s",
				by, filepath.Base(path), sentence(better.Text), *better.Misfit, was, but),
				action: "Label them so", run: func() { w.takeMatching(better) }, other: "Label the frames…", runOther: w.editLabels})
		})
	}()
}

func known(v []float64) (n int) {
	for _, x := range v {
		if !math.IsNaN(x) {
			n++
		}
	}
	return n
}

// brightness is how light the pictures are, laid on the span of the labels: a guess
// at stops that knows their order alone. ok is false while a frame is not read.
func (w *Window) brightness(files []string, labels []float64) (out []float64, ok bool) {
	for _, f := range files {
		l := w.sess.FrameOf(f).Row.Look
		if l == nil || l.Space == nil {
			return nil, false
		}
		out = append(out, l.Lightness())
	}
	out = plan.Spread(out, slices.Min(labels), slices.Max(labels))
	return out, out != nil
}

// takeMatching gives the frames the stops of an offer, as one step of undo, and has
// the roll compared anew.
func (w *Window) takeMatching(o *plan.Offer) {
	w.sess.Edit("matching by the plan", func(r *roll.Roll) {
		for _, s := range o.Scans {
			for i := range r.Frames {
				if r.Frames[i].File == s.Scan && s.Known {
					r.Frames[i].Stop, r.Frames[i].Origin = s.Stop, roll.FromPlan
				}
			}
		}
	})
	w.relate()
	w.sess.Emit(session.ViewChanged)
}
