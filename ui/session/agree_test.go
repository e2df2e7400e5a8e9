package session

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/film/finding"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/stills"
	"stopladder/analysis/show/webreport"
)

// held is what stands in a script element of the page.
func held(t *testing.T, page []byte, id string, to any) {
	t.Helper()
	_, rest, ok := bytes.Cut(page, []byte(`id="`+id+`">`))
	text, _, ended := bytes.Cut(rest, []byte("</script>"))
	if !ok || !ended {
		t.Fatalf("the page has no %s", id)
	}
	if err := json.Unmarshal(text, to); err != nil {
		t.Fatal(id, err)
	}
}

// jsonCost returns a criterion of a frame of the JSON at a grade; nil where it has none.
func jsonCost(f *report.Frame, g criteria.Grade, c criteria.Criterion) *float64 {
	if f.Salvage == nil {
		return nil
	}
	k := map[criteria.Grade]report.Cost{criteria.Exposure: f.Salvage.Exposure, criteria.Balance: f.Salvage.Balance, criteria.Curves: f.Salvage.Curves}[g]
	return [criteria.Count]*float64{criteria.LostArea: k.LostArea, criteria.DeltaE: k.DeltaE, criteria.Noise: k.NoiseL, criteria.Crossover: k.Crossover, criteria.ContrastKept: k.ContrastKept}[c]
}

// Ranges, figures and words of one measured roll are the same in the window, the JSON, the
// page for browsers, the sheet and the labels of stills.
func outputsAgree(t *testing.T, d *desk) {
	d.do(SetDetails{Lines: map[string]string{"title": "T"}, Judge: "J"})
	d.do(SetRange{&roll.Range{Lo: -1, Hi: 1.5}})
	d.do(SetVerdict{0, roll.Breaks})
	d.do(SetVerdict{len(d.Roll().Frames) - 1, roll.Strains})
	d.do(SetFinding{"More light."})
	for _, set := range criteria.Named() {
		d.do(SetLimits{set})
		d.settle()
		t.Run(set.Name, func(t *testing.T) { agree(t, d) })
	}
}

func agree(t *testing.T, d *desk) {
	doc, in, e := d.Report("1"), d.Sheet("Stopladder 1", nil).Input(), d.Film().Range()
	if e == nil || doc.Range.Holds == nil && e.Holds.Reason == "" {
		t.Fatal("the roll has no range")
	}
	var page bytes.Buffer
	if err := webreport.Write(t.Context(), &page, d.Film(), webreport.Options{Version: "1"}, nil, nil); err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := doc.EncodeJSON(&text); err != nil {
		t.Fatal(err)
	}
	var want, got any
	if err := json.Unmarshal(text.Bytes(), &want); err != nil {
		t.Fatal(err)
	}
	if held(t, page.Bytes(), "document", &got); !reflect.DeepEqual(got, want) {
		t.Error("the page holds another document than the JSON")
	}
	var said struct {
		Frames []struct{ Label, Decided, Suggested string }
	}
	held(t, page.Bytes(), "said", &said)
	set, err := d.Stills(stills.Options{Grades: []criteria.Grade{"", d.Film().Limits().Grade}, Label: stills.Label{Says: stills.Verdict}})
	if err != nil {
		t.Fatal(err)
	}
	list, rows := set.List(), d.Rows()
	if len(list) != 2*len(rows) || len(said.Frames) != len(rows) || len(doc.Frames) != len(rows) {
		t.Fatalf("%d stills, %d frames on the page, %d in the JSON, %d in the window", len(list), len(said.Frames), len(doc.Frames), len(rows))
	}
	ranges(t, d, doc, e, in.Measured, in.Range)
	own, judge := d.Roll().OwnFinding()
	if j := doc.Judges[0]; own == "" || *j.Finding != own || *j.Judge != judge || in.Finding.Own != own || in.Finding.Judge != judge {
		t.Errorf("the judge's finding: %q of %q, JSON %v, sheet %+v", own, judge, j, in.Finding)
	}
	if !slices.Equal(doc.Finding, in.Finding.Measured) || strings.Join(doc.Finding, "\n") != d.MeasuredFinding() {
		t.Errorf("the finding: JSON %q, sheet %q, window %q", doc.Finding, in.Finding.Measured, d.MeasuredFinding())
	}
	tables := row.TablesText(d.SalvageTables(d.Base()))
	for _, s := range doc.Finding {
		if !strings.Contains(tables, s) {
			t.Errorf("the window's page of salvage does not say %q", s)
		}
	}
	for i, r := range rows {
		f, s := &doc.Frames[i], said.Frames[i]
		for _, still := range []stills.Still{list[i], list[len(rows)+i]} {
			if still.Frame != i || still.Label != stops.Label(*f.Stop) || !strings.Contains(still.Comes, r.Why()) || f.Verdict != nil && !strings.HasPrefix(still.Comes, row.VerdictWord(roll.Verdict(*f.Verdict))) {
				t.Errorf("%s: still %+v, verdict %v", f.File, still, f.Verdict)
			}
		}
		if s.Label != r.Name() || s.Decided != r.Why() || s.Suggested != r.Suggested || r.Name() != stops.Label(*f.Stop) {
			t.Errorf("%s: page %+v, window %q %q %q", f.File, s, r.Name(), r.Why(), r.Suggested)
		}
		if i == d.Base() {
			continue
		}
		if r.Suggested != *f.Suggested {
			t.Errorf("%s: the window suggests %q, the JSON %q", f.File, r.Suggested, *f.Suggested)
		}
		decides(t, r, f, doc)
	}
}

// ranges holds the ranges against each other.
func ranges(t *testing.T, d *desk, doc *report.Report, e, sheet *latitude.Result, marked *roll.Range) {
	t.Helper()
	for _, l := range []struct {
		name string
		r    latitude.Range
		ends *report.Ends
		s    latitude.Range
	}{{"holds", e.Holds, doc.Range.Holds, sheet.Holds}, {"strains", e.Strains, doc.Range.Strains, sheet.Strains}} {
		if (l.r.Reason != "") != (l.ends == nil) || l.s != l.r {
			t.Fatalf("%s: %+v, JSON %v, sheet %+v", l.name, l.r, l.ends, l.s)
		}
		if l.ends == nil {
			continue
		}
		for k, x := range []latitude.End{l.r.Lo, l.r.Hi} {
			if *l.ends[k] != latitude.Hundredths(x.Stop) || !x.Open && *doc.Range.Uncertainty[l.name][k] != latitude.Hundredths(x.Uncertainty) {
				t.Errorf("%s: end %+v, JSON %g", l.name, x, *l.ends[k])
			}
		}
	}
	if e.Holds.Reason == "" && !strings.Contains(doc.Finding[0], strings.TrimSuffix(finding.Span(e.Holds), " stops")) {
		t.Errorf("the finding %q does not have the range %q", doc.Finding[0], finding.Span(e.Holds))
	}
	if g := d.Range(); *doc.Judges[0].Range != *g || *marked != *g {
		t.Errorf("the judge's range: %v, JSON %v, sheet %v", *g, *doc.Judges[0].Range, *marked)
	}
}

// decides holds the figure that a rung says decided against the JSON's.
func decides(t *testing.T, r *row.Data, f *report.Frame, doc *report.Report) {
	t.Helper()
	x, ok := r.Decide()
	if !ok {
		return
	}
	c, known := criteria.ByKey(x.Criterion.ID)
	if !known {
		t.Fatal(x.Criterion.ID)
	}
	v := jsonCost(f, doc.Limits.Grade, c)
	p := doc.Limits.Limits[c]
	if v == nil || *v != x.Value || x.Limit != p.Holds && x.Limit != p.Strains {
		t.Errorf("%s: %s decided with %g under %g, the JSON has %v under %v", f.File, x.Criterion.ID, x.Value, x.Limit, v, p)
	}
	if x.Passed && !slices.Contains(f.SuggestedBy, x.Criterion.ID) {
		t.Errorf("%s: the rung says that %s decided, the JSON %v", f.File, x.Criterion.ID, f.SuggestedBy)
	}
}
