// Package blindly shows what a blind judging (package judge/blind) came to: sentences, a
// plot of the verdicts over stops, plain text, and JSON (assets/schema/blind-1.json).
package blindly

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
)

// Schema names the JSON of blind judgings.
const Schema = "stopladder-blind-1"

// Document is the JSON of all blind judgings of a roll.
type Document struct {
	Schema   string    `json:"schema"`
	Program  string    `json:"program"`
	Title    string    `json:"title,omitempty"`
	Range    *Pair     `json:"range,omitempty"` // that the judge marked with labels in sight
	Judgings []Judging `json:"judgings"`
}

// Pair are two ends in stops.
type Pair struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

// Judging is one of them.
type Judging struct {
	Judge  string   `json:"judge,omitempty"`
	Begun  string   `json:"begun,omitempty"`
	Done   string   `json:"done,omitempty"`
	Shown  string   `json:"shown"`
	Views  int      `json:"views"`
	ToCome int      `json:"toCome"`
	Gone   int      `json:"gone,omitempty"`
	Stops  []Stop   `json:"stops"`
	Again  *float64 `json:"again,omitempty"`
	Pairs  int      `json:"pairs"`
	Unlike []Unlike `json:"unlike"`
	Turned []Turned `json:"turned"`
	Holds  *Ends    `json:"holds,omitempty"`
	Usable *Ends    `json:"usable,omitempty"`
	Says   []string `json:"says"`
}

// Stop counts the verdicts at one stop.
type Stop struct {
	Stop    float64 `json:"stop"`
	Holds   int     `json:"holds"`
	Strains int     `json:"strains"`
	Breaks  int     `json:"breaks"`
}

// Unlike is a frame that got different verdicts.
type Unlike struct {
	Stop     float64  `json:"stop"`
	Name     string   `json:"name"`
	Verdicts []string `json:"verdicts"`
}

// Turned are two frames of which the farther one got the better verdict.
type Turned struct {
	Farther float64 `json:"farther"`
	Better  string  `json:"better"`
	Nearer  float64 `json:"nearer"`
	Worse   string  `json:"worse"`
	Times   int     `json:"times"`
}

// Ends is a range with its errors.
type Ends struct {
	Under   End     `json:"under"`
	Over    End     `json:"over"`
	Noise   float64 `json:"noise"`
	NoiseLo float64 `json:"noiseLo"`
	NoiseHi float64 `json:"noiseHi"`
	At      []Share `json:"at"`
}

// End is one end of it.
type End struct {
	Stop   float64 `json:"stop"`
	Lo     float64 `json:"lo"`
	Hi     float64 `json:"hi"`
	Open   bool    `json:"open,omitempty"`
	Beyond bool    `json:"beyond,omitempty"`
}

// Share is how likely a frame at a stop is accepted.
type Share struct {
	Stop     float64 `json:"stop"`
	Accepted float64 `json:"accepted"`
}

// NewDocument returns all blind judgings of a roll.
func NewDocument(r *roll.Roll, program string) *Document {
	d := &Document{Schema: Schema, Program: program, Title: r.Called(), Judgings: []Judging{}}
	if len(r.Marks) > 0 && r.Marks[0].Range != nil {
		d.Range = &Pair{r.Marks[0].Range.Lo, r.Marks[0].Range.Hi}
	}
	for i := range r.Blind {
		d.Judgings = append(d.Judgings, judging(blind.Of(r, &r.Blind[i])))
	}
	return d
}

func judging(res *blind.Result) Judging {
	b := &res.Blind
	j := Judging{Judge: b.Judge, Begun: b.Begun, Done: b.Done, Shown: b.Shown, Views: res.Of, ToCome: res.To, Gone: res.Gone, Pairs: res.Pairs,
		Stops: []Stop{}, Unlike: []Unlike{}, Turned: []Turned{}, Says: Lines(res)}
	if j.Shown == "" {
		j.Shown = "scanned"
	}
	for _, s := range res.Stops {
		j.Stops = append(j.Stops, Stop(s))
	}
	if res.Pairs > 0 {
		v := rounded(res.Again)
		j.Again = &v
	}
	for _, u := range res.Unlike {
		one := Unlike{Stop: u.Stop, Name: u.Name}
		for _, v := range u.Verdicts {
			one.Verdicts = append(one.Verdicts, string(v))
		}
		j.Unlike = append(j.Unlike, one)
	}
	for _, t := range res.Turned {
		j.Turned = append(j.Turned, Turned{t.Farther, string(t.Better), t.Nearer, string(t.Worse), t.Times})
	}
	j.Holds, j.Usable = ends(res.Holds), ends(res.Usable)
	return j
}

func ends(f blind.Fit) *Ends {
	if !f.OK {
		return nil
	}
	end := func(e blind.End) End { return End{rounded(e.Stop), rounded(e.Lo), rounded(e.Hi), e.Open, e.Beyond} }
	out := &Ends{Under: end(f.Under), Over: end(f.Over), Noise: rounded(f.Noise), NoiseLo: rounded(f.NoiseLo), NoiseHi: rounded(f.NoiseHi)}
	for _, s := range f.At {
		out.At = append(out.At, Share{s.Stop, rounded(s.Accepted)})
	}
	return out
}

func rounded(v float64) float64 { return math.Round(v*1000) / 1000 }

// JSON writes all blind judgings of a roll.
func JSON(w io.Writer, r *roll.Roll, program string) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(NewDocument(r, program))
}

// Text writes them as plain text, the latest last.
func Text(w io.Writer, r *roll.Roll) error {
	var b strings.Builder
	for i := range r.Blind {
		res := blind.Of(r, &r.Blind[i])
		if i > 0 {
			fmt.Fprintln(&b)
		}
		fmt.Fprintln(&b, Title(res))
		fmt.Fprintf(&b, "\n%-8s %6s %8s %7s\n", "stop", "holds", "strains", "breaks")
		for _, s := range res.Stops {
			fmt.Fprintf(&b, "%-8s %6d %8d %7d\n", stops.Label(s.Stop), s.Holds, s.Strains, s.Breaks)
		}
		fmt.Fprintln(&b)
		for _, s := range Lines(res) {
			fmt.Fprintln(&b, s)
		}
		if m := r.Marks; len(m) > 0 && m[0].Range != nil {
			fmt.Fprintf(&b, "Marked with the labels in sight: %s to %s.\n", stops.Label(m[0].Range.Lo), stops.Label(m[0].Range.Hi))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Title says which judging it is.
func Title(res *blind.Result) string {
	t := "Blind judging"
	if res.Blind.Judge != "" {
		t += " by " + res.Blind.Judge
	}
	day := res.Blind.Done
	if day == "" {
		day = res.Blind.Begun
	}
	if day != "" {
		t += ", " + day
	}
	if res.Blind.Shown != "" {
		t += ", frames salvaged (" + res.Blind.Shown + ")"
	} else {
		t += ", frames as scanned"
	}
	return t
}

// Lines returns what a blind judging came to, in sentences.
func Lines(res *blind.Result) (out []string) {
	if res.To > 0 {
		out = append(out, fmt.Sprintf("%d of %d views have a verdict: it is not done yet.", res.Of, res.Of+res.To))
	}
	if res.Gone > 0 {
		out = append(out, fmt.Sprintf("%d views are of scans that the roll has no more; they are left out.", res.Gone))
	}
	out = append(out, fitLine("What holds", res.Holds), fitLine("What holds or strains", res.Usable))
	switch {
	case res.Pairs == 0:
		out = append(out, "No frame was seen twice: how far you agree with yourself is not known.")
	case len(res.Unlike) == 0:
		out = append(out, "Every frame got the same verdict each time.")
	default:
		out = append(out, fmt.Sprintf("Seen again, a frame got the same verdict in %.0f %% of %d pairs of views. Not so:", 100*res.Again, res.Pairs))
		for _, u := range res.Unlike {
			var words []string
			for _, v := range u.Verdicts {
				words = append(words, strings.ToLower(v.Word()))
			}
			out = append(out, fmt.Sprintf("  %s: %s.", stops.Label(u.Stop), strings.Join(words, ", ")))
		}
	}
	if len(res.Turned) == 0 {
		out = append(out, "No frame got a better verdict than one nearer to the base.")
	} else {
		out = append(out, "The worse frame got the better verdict:")
		for _, t := range res.Turned {
			times := ""
			if t.Times > 1 {
				times = fmt.Sprintf(", %d times", t.Times)
			}
			out = append(out, fmt.Sprintf("  %s %s, and %s %s%s.", stops.Label(t.Farther), strings.ToLower(t.Better.Word()), stops.Label(t.Nearer), strings.ToLower(t.Worse.Word()), times))
		}
	}
	return out
}

func fitLine(what string, f blind.Fit) string {
	if !f.OK {
		return what + ": nothing, or too few stops were seen for a range."
	}
	return fmt.Sprintf("%s: from %s to %s; your ends move by %.1f stops from view to view (%.1f to %.1f).", what, EndWords(f.Under, -1), EndWords(f.Over, 1), f.Noise, f.NoiseLo, f.NoiseHi)
}

// EndWords writes an end with its error, side -1 the under end: "−1 1/2 (−2 to −1 1/4)".
func EndWords(e blind.End, side float64) string {
	at := func(v float64) string { return stops.Label(stops.Quarter(v)) }
	inner, outer := e.Hi, e.Lo
	if side > 0 {
		inner, outer = e.Lo, e.Hi
	}
	if e.Open {
		return fmt.Sprintf("%s or beyond (at least %s)", at(e.Stop), at(inner))
	}
	if e.Beyond {
		return fmt.Sprintf("%s (at least %s, perhaps beyond the bracket)", at(e.Stop), at(inner))
	}
	lo, hi := inner, outer
	if lo > hi {
		lo, hi = hi, lo
	}
	return fmt.Sprintf("%s (%s to %s)", at(e.Stop), at(lo), at(hi))
}
