package session

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
)

// checkMatching returns the work of holding the labels that a plan beside the scans gave
// them against the measured stops. It offers the matching that these bear out better.
func (s *State) checkMatching() []Work {
	res := s.film.Response
	if res == nil || len(res.Frames) != len(s.roll.Frames) {
		return nil
	}
	var files []string
	var labels, measured []float64
	planned := false
	for i, f := range s.roll.Frames {
		planned = planned || f.Origin == roll.FromPlan
		m := math.NaN()
		if v := res.Frames[i].MeasuredStop; v != nil {
			m = *v
		}
		files, labels, measured = append(files, f.File), append(labels, f.Stop), append(measured, m)
	}
	if !planned {
		return nil
	}
	but := ""
	by, least := "By the measured stops", 1.0 // share of the misfit that must be left at most
	if known(measured) < 2 {
		// A roll that is labelled from its wrong end has no response, so no measured
		// stops; how light the pictures are tells the order all the same.
		var ok bool
		if measured, ok = s.brightness(labels); !ok {
			return nil
		}
		by, least = "By how light the pictures are", 0.5
		but = " (Scans of negatives that were left negative darken with exposure: then leave the labels as they are.)"
	}
	return []Work{{Name: "matching", Do: func(context.Context, func(Change)) (Change, error) {
		path, err := plan.Beside(files)
		if err != nil || path == "" {
			return nil, nil // it lay there when the scans were opened; their labels stand
		}
		p, err := plan.Load(path)
		if err != nil {
			return nil, nil
		}
		a, err := plan.Match(p, files, measured)
		if err != nil {
			return nil, nil
		}
		better, was, ok := a.Better(labels, measured)
		if !ok || *better.Misfit > least*was {
			return nil, nil
		}
		return matching{res, better, fmt.Sprintf("%s, %s fits better in another way: %s Off by %.2f stops so, by %.2f as the frames are labelled now.%s",
			by, filepath.Base(path), Sentence(better.Text), *better.Misfit, was, but)}, nil
	}}}
}

// matching is another way in which the scans and the plan beside them belong together.
type matching struct {
	of    *response.Result
	offer *plan.Offer
	words string
}

func (c matching) apply(s *State) Effect {
	if s.film.Response != c.of {
		return Effect{}
	}
	to := map[string]float64{}
	for _, x := range c.offer.Scans {
		if x.Known {
			to[x.Scan] = x.Stop
		}
	}
	s.notify(Notice{ID: findingID + "matching", Text: c.words, Actions: append([]Action{
		{Words: "Label them so", Change: SetLabels{Name: "matching by the plan", Stops: to, Origin: roll.FromPlan}}}, labels()...)})
	return Effect{Redraw: Notices}
}

func known(v []float64) (n int) {
	for _, x := range v {
		if !math.IsNaN(x) {
			n++
		}
	}
	return n
}

// brightness returns how light the pictures are, laid on the span of the labels: a guess at
// stops that knows their order alone. ok is false while a frame is not read.
func (s *State) brightness(labels []float64) (out []float64, ok bool) {
	for _, f := range s.film.Frames {
		l := f.Look
		if l == nil || l.Space == nil {
			return nil, false
		}
		out = append(out, l.Lightness())
	}
	out = plan.Spread(out, slices.Min(labels), slices.Max(labels))
	return out, out != nil
}
