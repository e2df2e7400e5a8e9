package main

import (
	"bytes"
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
)

// One small roll goes all the way: every check that it feeds enters something, and what
// has long been right (measured stops, clip counts, registration) is met.
func TestOneRoll(t *testing.T) {
	r := adversary.Roll{Film: adversary.Stocks()["grey-negative"], Scene: "brick", Seed: 3, Size: 600,
		Stops: []float64{-1, 0, 1}, Grain: 0.02, Blur: [2]float64{0.8, 1.2}, ReadSD: 1e-4}
	o, err := run(context.Background(), test{name: "small", roll: &r, for_: []string{"casts", "salvage", "noise", "range", "stops", "register", "fixed", "clip"}}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &book{}
	for _, name := range o.test.for_ {
		before := len(b.entries)
		checks[name](o, b)
		if len(b.entries) == before {
			t.Errorf("%s entered nothing", name)
		}
	}
	for _, e := range b.entries {
		switch e.row {
		case "measured stop, -2 to +2", "clipped fractions", "registration at the corners":
			if !e.told || !e.ok {
				t.Errorf("%s, %s: %g, truly %g", e.row, e.what, e.got, e.want)
			}
		}
	}
	var out bytes.Buffer
	b.print(&out, "measured stop, -2")
	if !strings.Contains(out.String(), "100.0 %  met") {
		t.Errorf("the table says\n%s", out.String())
	}
}

// A reading beyond its bound, and one that is not told, are told apart.
func TestBook(t *testing.T) {
	b, o := &book{}, &outcome{test: test{name: "invented"}}
	b.add("lost area", o, "", 0.2, 0.1, 0.1, 0.015)
	b.add("lost area", o, "", math.NaN(), 0.1, math.NaN(), 0.015)
	b.add("lost area", o, "", 0.11, 0.1, 0.01, 0.015)
	var out bytes.Buffer
	if missed := b.print(&out, ""); missed != 1 || !strings.Contains(out.String(), "3      1     0.100     0.100    50.0 %  missed") {
		t.Errorf("%d missed\n%s", missed, out.String())
	}
}

// Every roll names checks that there are, and a film.
func TestTests(t *testing.T) {
	list := tests(5, 1200, true)
	names := map[string]bool{}
	for _, x := range list {
		if names[x.name] {
			t.Errorf("two rolls are named %q", x.name)
		}
		names[x.name] = true
		if x.roll.Film == nil || !slices.Contains(x.roll.Stops, 0) || len(x.for_) == 0 && x.group == "" {
			t.Errorf("%q has no film, no frame at 0, or feeds nothing", x.name)
		}
		for _, n := range x.for_ {
			if checks[n] == nil {
				t.Errorf("%q feeds %q, which is no check", x.name, n)
			}
		}
	}
	if len(list) < 60 {
		t.Errorf("%d rolls, and 60 are the least", len(list))
	}
}

// Every row that a check enters is in the table: one that is not would end a run of hours.
func TestRowsAreKnown(t *testing.T) {
	f, err := parser.ParseFile(token.NewFileSet(), "checks.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	rows := slices.Collect(maps.Values(groupRow))
	ast.Inspect(f, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) == 0 {
			return true
		}
		if s, ok := call.Fun.(*ast.SelectorExpr); !ok || s.Sel.Name != "add" && s.Sel.Name != "is" {
			return true
		}
		if l, ok := call.Args[0].(*ast.BasicLit); ok && l.Kind == token.STRING {
			row, err := strconv.Unquote(l.Value)
			if err != nil {
				t.Error(err)
			}
			rows = append(rows, row)
		}
		return true
	})
	if len(rows) < 20 {
		t.Errorf("only %d rows were found in checks.go", len(rows))
	}
	for _, row := range rows {
		if !known(row) {
			t.Errorf("no row is named %q", row)
		}
	}
}

// Scans that were sharpened are said to be, and such as were not are not; and that a scene
// of few colours does not tell how the dyes mix is said.
func TestWhatARollDoesNotTellIsSaid(t *testing.T) {
	for _, sharpen := range []float64{0, 0.8} {
		r := adversary.Roll{Film: adversary.Stocks()["slide-dyes"], Scene: "even", Seed: 4, Size: 640, Stops: []float64{-1, 0, 1},
			Grain: 0.02, Blur: [2]float64{0.8, 1.2}, ReadSD: 1e-4, Sharpen: sharpen, SharpenRadius: 1}
		var frames []*adversary.Frame
		for i := range r.Stops {
			frames = append(frames, r.Frame(i))
		}
		read, err := measure(context.Background(), &r, frames)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(read.words, "were sharpened"); got != (sharpen > 0) {
			t.Errorf("sharpened by %g: said to be %v", sharpen, got)
		}
		if !strings.Contains(read.words, "dyes absorb outside their own part of the spectrum cannot be told") {
			t.Errorf("sharpened by %g: that the dyes are not told is not said:\n%s", sharpen, read.words)
		}
	}
}
