package ui

import (
	"fmt"
	"math"
	"path/filepath"

	"stopladder/analysis/plan"
	"stopladder/analysis/roll"
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
		w.do(func() {
			if w.sess != sess || sess.Fitted != f || !ok {
				return
			}
			w.notices.add(notice{id: "finding matching", text: fmt.Sprintf(
				"The measured stops fit %s better in another way: %s They are then off by %.2f stops, and by %.2f as the frames are labelled now.",
				filepath.Base(path), sentence(better.Text), *better.Misfit, was),
				action: "Label them so", run: func() { w.takeMatching(better) }, other: "Label the frames…", runOther: w.editLabels})
		})
	}()
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
