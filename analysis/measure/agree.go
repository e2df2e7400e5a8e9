package measure

import (
	"context"
	"image"

	"stopladder/analysis/scan"
)

// Agree makes the looks of one roll agree on image areas and limits: it calls
// AgreeAreas and AgreeLimits and recounts the frames that change. open must give
// the scan of looks[i] again; it is called for those frames alone. The looks
// themselves are left as they are: the returned slice holds new ones where
// something changed. Entries of looks may be nil (frames that failed). base is
// an index into looks, -1 when there is none. A frame that cannot be recounted
// keeps its look with a note, and the first such error is returned with it.
func Agree(ctx context.Context, looks []*Look, base int, open func(i int) (scan.Source, error), opt Options) ([]*Look, error) {
	out := append([]*Look(nil), looks...)
	var first error
	again := func(i int, o Options, from AreaFrom, note string) {
		src, err := open(i)
		if err == nil {
			var l *Look
			if l, err = out[i].recount(ctx, src, o, from, note); err == nil {
				out[i] = l
				return
			}
		}
		if first == nil {
			first = err
		}
		l := *out[i]
		l.Notes = append(append([]string(nil), l.Notes...), "The frame could not be measured again with the roll's image area and limits; its own are used.")
		out[i] = &l
	}
	for i, a := range AgreeAreas(out, base) {
		if out[i] == nil || !a.Changed {
			continue
		}
		area := a.Area
		again(i, Options{Area: &area, Workers: opt.Workers}, a.From, a.Note)
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
	}
	lim, changed := AgreeLimits(out)
	for _, i := range changed {
		again(i, Options{Limits: &lim, Workers: opt.Workers}, out[i].AreaFrom, out[i].AreaNote)
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
	}
	for i, l := range out {
		// Counts are the same under the agreed limits: only their names change.
		if l == nil || l.Info.Bits != lim.bits() || l.limitsMatter(lim) {
			continue
		}
		n := *l
		n.Ceiling, n.Floor, n.CeilingFrom, n.FloorFrom = lim.Ceiling, lim.Floor, lim.CeilingFrom, lim.FloorFrom
		out[i] = &n
	}
	return out, first
}

func (l Limits) bits() int {
	if max(l.Ceiling.R, l.Ceiling.G, l.Ceiling.B) > 255 {
		return 16
	}
	return 8
}

// AgreeAreas proposes an image area for every frame of a roll.
func AgreeAreas(looks []*Look, base int) []AgreedArea {
	out := make([]AgreedArea, len(looks))
	for i, l := range looks {
		if l != nil {
			out[i] = AgreedArea{Area: l.Area, From: l.AreaFrom, Note: l.AreaNote}
		}
	}
	_ = image.Rectangle{}
	return out
}
