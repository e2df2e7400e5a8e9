package manual

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/assets"
	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

func TestBlocks(t *testing.T) {
	got := blocks("# Title\n\nA line\ngoes on.\n\n- one\n  and more\n- two\n\n1. first\n\n| a | b |\n|---|---|\n| `x|y` | c \\| d |\n\n```\ncode | is\n```\nend\n")
	var kinds []kind
	for _, b := range got {
		kinds = append(kinds, b.kind)
	}
	if want := []kind{heading, paragraph, item, item, item, table, code, paragraph}; !slices.Equal(kinds, want) {
		t.Fatalf("kinds %v, want %v", kinds, want)
	}
	if got[1].text != "A line goes on." || got[2].text != "one and more" || got[4].mark != "1." {
		t.Errorf("%+v", got[:5])
	}
	if r := got[5].rows; len(r) != 2 || r[1][0] != "`x|y`" || r[1][1] != "c | d" {
		t.Errorf("table %q", r)
	}
	if got[6].text != "code | is" {
		t.Errorf("code %q", got[6].text)
	}
}

func TestSpans(t *testing.T) {
	if s := spans("in **L\\* units** here"); len(s) != 3 || s[1] != (span{text: "L* units", bold: true}) {
		t.Errorf("%+v", s)
	}
	s := spans("a **bold** and `a*b` of [the *noise*](noise.md#x), a\\*b\\*, L\\*")
	want := []span{{text: "a "}, {text: "bold", bold: true}, {text: " and "}, {text: "a*b", code: true}, {text: " of "},
		{text: "the noise", link: "noise.md#x"}, {text: ", a*b*, L*"}}
	if !slices.Equal(s, want) {
		t.Errorf("%+v", s)
	}
}

// Every page is listed, has words in it, and shows no mark of Markdown; every link in it
// leads somewhere.
func TestEveryPageAndLink(t *testing.T) {
	pages := order()
	if len(pages) != len(assets.ManualPages())-1 { // the list itself is no page
		t.Fatalf("%d pages are listed, %d are there", len(pages), len(assets.ManualPages())-1)
	}
	n := 0
	for _, p := range pages {
		here := map[string]bool{}
		for _, b := range blocks(string(assets.ManualPage(p))) {
			if b.kind == heading {
				here[anchor(plain(b.text))] = true
			}
			texts := append([]string{b.text}, slices.Concat(b.rows...)...)
			if b.kind == code {
				continue
			}
			for _, s := range texts {
				for _, x := range spans(s) {
					if strings.Contains(x.text, "](") || strings.Contains(x.text, "**") || strings.HasPrefix(x.text, "|") {
						t.Errorf("%s shows %q", p, x.text)
					}
					file, at, _ := strings.Cut(x.link, "#")
					if x.link == "" || strings.Contains(x.link, "://") {
						continue
					}
					n++
					name := strings.TrimSuffix(file, ".md")
					if file == "" {
						name = p
					}
					if at != "" && assets.ManualPage(name) != nil && !slices.ContainsFunc(blocks(string(assets.ManualPage(name))), func(b block) bool {
						return b.kind == heading && anchor(plain(b.text)) == at
					}) {
						t.Errorf("%s links to %s, which has no such heading", p, x.link)
					}
				}
			}
		}
		if len(here) == 0 || title(p) == p {
			t.Errorf("%s has no title", p)
		}
	}
	if n < 20 {
		t.Errorf("only %d links were followed", n)
	}
}

func TestFind(t *testing.T) {
	all := sections(order())
	hits := find(all, "salvage LIMIT")
	if len(hits) == 0 {
		t.Fatal("nothing is found")
	}
	for _, h := range hits {
		both := strings.ToLower(h.title + h.text)
		if !strings.Contains(both, "salvage") || !strings.Contains(both, "limit") {
			t.Errorf("%s: %s has not both words", h.page, h.title)
		}
	}
	if find(all, "no such word as zyzzyx") != nil || find(all, " ") != nil {
		t.Error("what is not there is found")
	}
}

func TestReading(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	win := test.NewTempWindow(t, widget.NewLabel(""))
	win.Resize(fyne.NewSize(1280, 800))
	left := ""
	m := New(win.Canvas(), func(u *url.URL) { left = u.String() })
	m.Show()
	win.Canvas().Capture()
	if win.Canvas().Focused() != fyne.Focusable(m.search) {
		t.Error("the search has not the keyboard")
	}
	test.Type(m.search, "noise")
	first := m.list.Objects[0].(*chip.Chip)
	test.Tap(first)
	page, _ := m.Page()
	if page != m.hits[0].page {
		t.Errorf("the first hit opens %s", page)
	}
	m.follow("keys.md")
	if p, _ := m.Page(); p != "keys" {
		t.Errorf("a link opens %s", p)
	}
	m.follow("https://www.w3.org/")
	if left != "https://www.w3.org/" {
		t.Errorf("a link outside opens %q", left)
	}
	m.TypedKey(&fyne.KeyEvent{Name: fyne.KeyBackspace})
	if p, _ := m.Page(); p != page {
		t.Errorf("Back leads to %s", p)
	}
	// Tables are as wide as their page, and no cell lies over another.
	m.follow("keys.md")
	win.Canvas().Capture()
	tables := 0
	for _, o := range m.body.Content.(*fyne.Container).Objects {
		box, ok := o.(*fyne.Container)
		if !ok {
			continue
		}
		g, ok := box.Layout.(*grid)
		if !ok {
			continue
		}
		tables++
		for i, a := range box.Objects {
			if i+g.cols < len(box.Objects) && a.Position().Y >= box.Objects[i+g.cols].Position().Y {
				t.Errorf("row %d lies over the next", i/g.cols)
			}
			if a.Position().X+a.Size().Width > box.Size().Width+1 {
				t.Errorf("a cell of row %d is cut off", i/g.cols)
			}
		}
	}
	if tables == 0 {
		t.Error("the page of keys has no table")
	}
	m.search.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if m.Shown() {
		t.Error("Escape does not close it")
	}
}
