package agreement

import (
	"math"
	"testing"
)

// diagnoses are the 30 patients, six raters and five categories of Fleiss 1971, table 1, as
// kept in statsmodels (statsmodels/stats/tests/test_inter_rater.py), which has R's package
// irr say kappam.fleiss 0.4302445.
var diagnoses = [][]int{
	{4, 4, 4, 4, 4, 4}, {2, 2, 2, 5, 5, 5}, {2, 3, 3, 3, 3, 5}, {5, 5, 5, 5, 5, 5}, {2, 2, 2, 4, 4, 4}, {1, 1, 3, 3, 3, 3},
	{3, 3, 3, 3, 5, 5}, {1, 1, 3, 3, 3, 4}, {1, 1, 4, 4, 4, 4}, {5, 5, 5, 5, 5, 5}, {1, 4, 4, 4, 4, 4}, {1, 2, 4, 4, 4, 4},
	{2, 2, 2, 3, 3, 3}, {1, 4, 4, 4, 4, 4}, {2, 2, 4, 4, 4, 5}, {3, 3, 3, 3, 3, 5}, {1, 1, 1, 4, 5, 5}, {1, 1, 1, 1, 1, 2},
	{2, 2, 4, 4, 4, 4}, {1, 3, 3, 5, 5, 5}, {5, 5, 5, 5, 5, 5}, {2, 4, 4, 4, 4, 4}, {2, 2, 4, 5, 5, 5}, {1, 1, 4, 4, 4, 4},
	{1, 4, 4, 4, 4, 5}, {2, 2, 2, 2, 2, 4}, {1, 1, 1, 1, 5, 5}, {2, 2, 4, 4, 4, 4}, {1, 3, 3, 3, 3, 3}, {5, 5, 5, 5, 5, 5},
}

// anxiety are 20 subjects and three raters on a scale of seven, of R's package irr, kept at
// the same place.
var anxiety = [3][]int{
	{3, 3, 3, 4, 5, 5, 2, 3, 5, 2, 2, 6, 1, 5, 2, 2, 1, 2, 4, 3},
	{3, 6, 4, 6, 2, 4, 2, 4, 3, 3, 2, 3, 3, 3, 2, 2, 1, 3, 3, 4},
	{2, 1, 4, 4, 3, 2, 1, 6, 1, 1, 1, 2, 3, 3, 1, 1, 3, 3, 2, 2},
}

// from makes rows of categories from 0 on, of those of the given columns.
func from(rows [][]int, columns ...int) (out [][]int) {
	for _, r := range rows {
		var one []int
		for _, c := range columns {
			one = append(one, r[c]-1)
		}
		out = append(out, one)
	}
	return out
}

// counted makes rows of counts of categories.
func counted(table [][]int) (rows [][]int) {
	for _, counts := range table {
		var r []int
		for c, n := range counts {
			for range n {
				r = append(r, c)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

func near(t *testing.T, what string, got, want, off float64) {
	t.Helper()
	if !(math.Abs(got-want) <= off) {
		t.Errorf("%s: %.7f, want %.7f", what, got, want)
	}
}

func TestFleissAgainstPublished(t *testing.T) {
	all := from(diagnoses, 0, 1, 2, 3, 4, 5)
	near(t, "Fleiss 1971, by irr", fleiss(all, 5).kappa(), 0.4302445, 5e-8)

	// 14 raters, 10 subjects: statsmodels' table0, and 0.210 in the text that it is from.
	table := [][]int{{0, 0, 0, 0, 14}, {0, 2, 6, 4, 2}, {0, 0, 3, 5, 6}, {0, 3, 9, 2, 0}, {2, 2, 8, 1, 1},
		{7, 7, 0, 0, 0}, {3, 2, 6, 3, 0}, {2, 5, 3, 2, 2}, {6, 5, 2, 1, 0}, {0, 2, 2, 3, 7}}
	near(t, "ten subjects", fleiss(counted(table), 5).kappa(), 0.210, 5e-4)

	// Small tables of statsmodels' test_fleis_randolph, from Randolph's calculator.
	for _, c := range []struct {
		table        [][]int
		share, kappa float64
	}{{[][]int{{7, 1}, {3, 5}}, 0.607143, 0.161905}, {[][]int{{7, 0}, {0, 7}}, 1, 1}, {[][]int{{6, 1, 0}, {0, 7, 0}}, 0.857143, 0.708333}} {
		s := fleiss(counted(c.table), len(c.table[0]))
		near(t, "share", s.got, c.share, 6e-7)
		near(t, "kappa", s.kappa(), c.kappa, 6e-7)
	}
}

func TestCohenAgainstPublished(t *testing.T) {
	// A printout of SAS, in the same test of statsmodels.
	var rows [][]int
	for a, line := range [][]int{{0, 4, 1}, {0, 8, 0}, {0, 1, 5}} {
		for b, n := range line {
			for range n {
				rows = append(rows, []int{a, b})
			}
		}
	}
	near(t, "SAS", cohen(rows, 3, plain).kappa(), 0.4842, 5e-5)
	near(t, "SAS, weighted", cohen(rows, 3, linear).kappa(), 0.4701, 5e-5)

	var second [][]int
	for i := range anxiety[1] {
		second = append(second, []int{anxiety[1][i] - 1, anxiety[2][i] - 1})
	}
	near(t, "irr, kappa2(anxiety[,2:3])", cohen(second, 6, plain).kappa(), -0.006289308, 5e-9)
	// irr drops the level that nobody gave before it weighs.
	for _, r := range second {
		for k, c := range r {
			if c == 5 {
				r[k] = 4
			}
		}
	}
	near(t, "irr, equal weights", cohen(second, 5, linear).kappa(), 0.1459075, 5e-8)

	// kappa2(diagnoses[, 1:2]) by R's irr: 0.651, from shares of 0.7333 and 0.2356.
	s := cohen(from(diagnoses, 0, 1), 5, plain)
	near(t, "share", s.got, 0.7333, 5e-5)
	near(t, "by habit", s.chance, 0.2356, 5e-5)
	near(t, "kappa", s.kappa(), 0.6512, 5e-5)
}

func TestChanceIsExact(t *testing.T) {
	// Fisher's tea, The Design of Experiments, 1935: eight cups, four of each kind, all
	// told right: 1 of 70.
	tea := [][]int{{0, 0}, {0, 0}, {0, 0}, {0, 0}, {1, 1}, {1, 1}, {1, 1}, {1, 1}}
	if c := byChance(tea, 2); c != (Chance{1. / 70, 70, true}) {
		t.Error(c)
	}
	tea[3][1], tea[4][1] = 1, 0 // three of four: 17 of 70
	if c := byChance(tea, 2); c != (Chance{17. / 70, 70, true}) {
		t.Error(c)
	}
	// Nobody can do worse than everybody who says one thing.
	if c := byChance([][]int{{2, 2}, {2, 2}, {2, 2}}, 3); c.P != 1 || c.Deals != 1 {
		t.Error(c)
	}
}

// What is drawn comes to what is counted through.
func TestDrawnChance(t *testing.T) {
	c := byChance(from(diagnoses, 0, 1, 2, 3, 4, 5), 5)
	if c.Exact || c.P != 1./(drawnDeals+1) {
		t.Error(c)
	}
	if a, b := byChance(from(diagnoses[:12], 0, 1, 2, 3), 5), byChance(from(diagnoses[:12], 0, 1, 2, 3), 5); a != b || a.Exact {
		t.Error(a, b) // the same verdicts, the same figure
	}
	if testing.Short() {
		return
	}
	// Three judges, six frames: 90 x 90 deals, counted through and, by hand, drawn.
	rows := [][]int{{0, 0, 0}, {0, 1, 1}, {1, 1, 1}, {1, 1, 0}, {2, 2, 1}, {2, 0, 2}}
	exact := byChance(rows, 3)
	judges := columns(rows)
	r, as, want := dice(), 0, pairs(judges)
	const draws = 200_000
	for range draws {
		for _, j := range judges[1:] {
			r.Shuffle(len(j), func(a, b int) { j[a], j[b] = j[b], j[a] })
		}
		if pairs(judges) >= want {
			as++
		}
	}
	off := 5 * math.Sqrt(exact.P*(1-exact.P)/draws)
	if !exact.Exact {
		t.Fatal(exact)
	}
	near(t, "drawn", float64(as)/draws, exact.P, off)
}

func TestOf(t *testing.T) {
	if Of(Table{3, nil}) != nil || Of(Table{3, [][]int{{0}, {1}}}) != nil || Of(Table{3, [][]int{{0, None}, {None, 1}}}) != nil {
		t.Error("agreement from nothing")
	}
	one := Of(Table{3, [][]int{{0, 0}, {0, 0}, {0, None}}})
	if one == nil || one.Kappa != nil || one.Low != nil || one.Share != 1 || one.LeftOut != 1 || one.Frames != 2 || one.Chance.P != 1 {
		t.Errorf("one verdict alone tells nothing: %+v", one)
	}
	same := Of(Table{3, [][]int{{0, 0}, {1, 1}, {2, 2}}})
	if *same.Kappa != 1 || same.Low != nil || same.Chance.P != 1./6 {
		t.Errorf("%+v", same)
	}
	apart := Of(Table{2, [][]int{{0, 1}, {1, 0}, {0, 1}, {1, 0}}})
	if *apart.Kappa != -1 || apart.Share != 0 || apart.Chance.P != 1 {
		t.Errorf("%+v", apart)
	}
	out := Of(Table{2, [][]int{{0, 7}, {1, 1}}})
	if out.Frames != 1 {
		t.Errorf("a category that there is none of counts as not judged: %+v", out)
	}
}

func TestRanges(t *testing.T) {
	if OfRanges([]Range{{0, 1}}) != nil {
		t.Error("one range")
	}
	r := OfRanges([]Range{{-1.5, 2}, {-1, 2.5}, {-2, 1.5}})
	if *r.All != (Range{-1, 1.5}) || r.Some != (Range{-2, 2.5}) || r.Middle != (Range{-1.5, 2}) || r.ApartLo != 1 || r.ApartHi != 1 {
		t.Errorf("%+v", r)
	}
	near(t, "overlap", r.MeanOver, (3./4+3./4+2.5/4.5)/3, 1e-12)
	if r := OfRanges([]Range{{-2, -1}, {0, 1}}); r.All != nil || r.MeanOver != 0 {
		t.Errorf("%+v", r)
	}
	if r := OfRanges([]Range{{0, 0}, {0, 0}}); r.MeanOver != 1 || *r.All != (Range{0, 0}) {
		t.Errorf("%+v", r)
	}
}
