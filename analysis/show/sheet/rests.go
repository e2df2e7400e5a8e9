package sheet

import (
	"fmt"
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

// Rests lists what the figures of these frames rest on, in whole sentences; a note that
// several frames share is written once.
func Rests(frames []Frame) []string {
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
		out = append(out, profiles(looks)...)
		out = append(out, "Percentages are of the image area; film border and holder are left out. Blown and Blocked count pixels with any channel at or beyond the scan's ceiling or floor.")
		if s := areas(looks); s != "" {
			out = append(out, s)
		}
		out = append(out, clipping(looks)...)
	}
	if s := origins(frames); s != "" {
		out = append(out, s)
	}
	for _, f := range looks {
		if f.Data.Rel != nil && f.Data.Rel.NoiseLimit > 0 {
			out = append(out, fmt.Sprintf("Noisy counts shadow areas whose noise passes %.1f L* once the frame is brought to the base frame's brightness; the limit is common practice, without a published source.", f.Data.Rel.NoiseLimit))
			break
		}
	}
	return append(out, shared(frames)...)
}

func profiles(frames []Frame) (out []string) {
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

func origins(frames []Frame) string {
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
			return "Stops are as labelled, " + strings.Join(s, ", ") + "."
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

// Record returns everything that the figures of a page rest on, one sentence or two each:
// what the roll told of itself, what was done to the pictures, how the readings are taken.
func Record(in Input) (out []string) {
	if lacking := paint.Lacking(in.Texts()...); lacking != "" {
		out = append(out, LackingWords(lacking))
	}
	if in.Correction != "" {
		out = append(out, "The pictures are shown with one correction for all frames: "+strings.TrimSuffix(in.Correction, ".")+". The readings, bars and curves are those of the scans.")
	}
	out = append(append(append(out, in.Conditions...), in.Notes...), Rests(in.Frames)...)
	for _, f := range in.Frames {
		if f.Data != nil && f.Data.Scales.Cast > 0 {
			out = append(out, "The dots of the casts are greys at the light of the scene's shadows (black), midtones (grey) and highlights (white), which the base frame shows neutral, as each frame shows them. CIELAB, D50.")
			break
		}
	}
	return append(append(out, responseNotes(in, in.Frames)...), salvageNotes(in)...)
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
			return append(out, "Flat counts pixels that the scan has not clipped but where the film no longer separates tones; the bars show it in the weaker colour.")
		}
	}
	return out
}
