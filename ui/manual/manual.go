// Package manual shows the manual in the program: the pages that are carried in it, a list
// of them, a search over all, and links that lead where they say.
package manual

import (
	"bytes"
	"image/color"
	"image/jpeg"
	"net/url"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	ftheme "fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"stopladder/assets"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

// Measures, toolkit units.
const (
	width     = 1160
	listWidth = 250
	textWidth = 760 // the most that a line of text is read well at
	hitsMost  = 40
)

// Manual is the card on which the manual is read.
type Manual struct {
	*veil.Veil
	over   fyne.Canvas
	pages  []string
	all    []section
	search *ask.Entry
	list   *fyne.Container
	body   *container.Scroll
	back   *chip.Chip
	leave  func(*url.URL) // opens a link that leads out of the manual

	at      place
	been    []place
	hits    []section
	anchors map[string]fyne.CanvasObject
}

// place is where one reads.
type place struct{ page, anchor string }

// New returns the manual; leave opens addresses outside of it.
func New(over fyne.Canvas, leave func(*url.URL)) *Manual {
	m := &Manual{over: over, pages: order(), leave: leave}
	m.all = sections(m.pages)
	m.search = ask.NewEntry(over, "")
	m.search.SetPlaceHolder("Search all pages")
	m.search.OnChanged = m.look
	m.search.OnReturn = func() {
		if len(m.hits) > 0 {
			m.Open(m.hits[0].page, m.hits[0].anchor)
		}
	}
	m.search.OnEscape = func() { m.Hide() }
	m.list = container.NewVBox()
	m.body = container.NewVScroll(canvas.NewRectangle(color.Transparent))
	m.back = chip.New("Back", "Backspace", m.goBack)
	wide := canvas.NewRectangle(color.Transparent)
	wide.SetMinSize(fyne.NewSize(listWidth, 1))
	head := canvas.NewText("Manual", theme.Text)
	head.TextSize = theme.Title
	top := container.NewBorder(nil, nil, head, container.NewHBox(m.back, chip.New("Close", "Esc", func() { m.Hide() })))
	left := container.NewBorder(container.NewVBox(wide, m.search), nil, nil, nil, container.NewVScroll(m.list))
	m.Veil = veil.New(over, page.Padded(12, 12, 16, 12, container.NewBorder(page.Padded(0, 8, 0, 0, top), nil, page.Padded(0, 0, 0, 14, left), nil, m.body)),
		func(w fyne.Size) (fyne.Position, fyne.Size) { return veil.Middle(width, w.Height)(w) })
	m.Veil.OnKey = m.key
	m.look("")
	m.Open(m.pages[0], "")
	return m
}

// Show opens the manual where it was left, with the search ready.
func (m *Manual) Show() {
	m.Veil.Show()
	m.Focus(m.search)
}

// key is what a key does that the search did not take.
func (m *Manual) key(k *fyne.KeyEvent) {
	page := m.body.Size().Height * 0.9
	move := func(by float32) {
		most := max(0, m.body.Content.Size().Height-m.body.Size().Height)
		m.body.ScrollToOffset(fyne.NewPos(0, max(0, min(most, m.body.Offset.Y+by))))
	}
	switch k.Name {
	case fyne.KeyEscape:
		m.Hide()
	case fyne.KeyBackspace:
		m.goBack()
	case fyne.KeyUp:
		move(-40)
	case fyne.KeyDown:
		move(40)
	case fyne.KeyPageUp:
		move(-page)
	case fyne.KeyPageDown:
		move(page)
	case fyne.KeyHome:
		m.body.ScrollToTop()
	case fyne.KeyEnd:
		m.body.ScrollToBottom()
	}
}

// look lists the sections that have the words of a question, all pages for none.
func (m *Manual) look(question string) {
	m.hits = find(m.all, question)
	m.list.RemoveAll()
	add := func(words string, open func(), on bool) {
		c := chip.New(words, "", open)
		c.Leading = true
		c.Set(words, on, false)
		m.list.Add(c)
	}
	if strings.TrimSpace(question) == "" {
		for _, p := range m.pages {
			add(title(p), func() { m.Open(p, "") }, p == m.at.page)
		}
		m.list.Refresh()
		return
	}
	for i, h := range m.hits {
		if i == hitsMost {
			break
		}
		words := h.title
		if h.anchor != "" {
			words = title(h.page) + ": " + h.title
		}
		add(words, func() { m.Open(h.page, h.anchor) }, false)
	}
	if len(m.hits) == 0 {
		m.list.Add(ask.Text("No page has these words."))
	}
	m.list.Refresh()
}

// Open shows a page from its beginning, or from a heading.
func (m *Manual) Open(name, at string) {
	if m.at.page != "" && (m.at != place{name, at}) {
		m.been = append(m.been, m.at)
	}
	m.show(place{name, at})
}

// Page returns the page that is open and the heading that it was opened at.
func (m *Manual) Page() (name, anchor string) { return m.at.page, m.at.anchor }

func (m *Manual) goBack() {
	if n := len(m.been); n > 0 {
		to := m.been[n-1]
		m.been = m.been[:n-1]
		m.show(to)
	}
}

func (m *Manual) show(p place) {
	if p.page != m.at.page {
		m.body.Content = m.laid(p.page)
		m.body.Refresh()
	}
	m.at = p
	m.back.Set(m.back.Text, false, len(m.been) == 0)
	m.body.ScrollToTop()
	if o := m.anchors[p.anchor]; o != nil && p.anchor != "" {
		m.body.ScrollToOffset(fyne.NewPos(0, max(0, min(o.Position().Y, m.body.Content.Size().Height-m.body.Size().Height))))
	}
	if m.search.Text == "" {
		m.look("")
	}
}

// follow opens what a link leads to.
func (m *Manual) follow(link string) {
	file, at, _ := strings.Cut(link, "#")
	if file == "" {
		m.Open(m.at.page, at)
		return
	}
	if name, ok := strings.CutSuffix(file, ".md"); ok && assets.ManualPage(name) != nil {
		m.Open(name, at)
		return
	}
	if u, err := url.Parse(link); err == nil && u.Scheme != "" {
		m.leave(u)
	}
}

// laid sets a page.
func (m *Manual) laid(name string) fyne.CanvasObject {
	m.anchors = map[string]fyne.CanvasObject{}
	box := container.New(&column{})
	for _, b := range blocks(string(assets.ManualPage(name))) {
		o := m.block(b)
		if b.kind == heading {
			m.anchors[anchor(plain(b.text))] = o
		}
		box.Objects = append(box.Objects, o)
	}
	return box
}

func (m *Manual) block(b block) fyne.CanvasObject {
	switch b.kind {
	case heading:
		size := ftheme.SizeNameSubHeadingText
		if b.level == 1 {
			size = ftheme.SizeNameHeadingText
		}
		return m.text(b.text, size, true)
	case item:
		mark := widget.NewLabel(b.mark)
		return container.New(&hanging{in: float32(b.level) * 18, mark: 26}, mark, m.text(b.text, ftheme.SizeNameText, false))
	case table:
		g := &grid{}
		box := container.New(g)
		for _, r := range b.rows {
			g.cols = max(g.cols, len(r))
		}
		for i, r := range b.rows {
			for k := range g.cols {
				t := ""
				if k < len(r) {
					t = r[k]
				}
				g.measure(k, plain(t))
				box.Objects = append(box.Objects, m.text(t, ftheme.SizeNameText, i == 0))
			}
		}
		return box
	case picture:
		return m.picture(b)
	case code:
		t := widget.NewLabel(b.text)
		t.TextStyle.Monospace = true
		return container.NewStack(canvas.NewRectangle(theme.Well), container.NewHScroll(t))
	}
	return m.text(b.text, ftheme.SizeNameText, false)
}

// picture shows a picture of the manual with what it shows under it.
func (m *Manual) picture(b block) fyne.CanvasObject {
	words := m.text(b.text, ftheme.SizeNameText, false)
	img, err := jpeg.Decode(bytes.NewReader(assets.ManualPicture(b.file)))
	if err != nil {
		return words // they stand for it
	}
	i := canvas.NewImageFromImage(img)
	i.FillMode, i.ScaleMode = canvas.ImageFillContain, canvas.ImageScaleSmooth
	w := float32(min(img.Bounds().Dx(), pictureWidth))
	i.SetMinSize(fyne.NewSize(w, w*float32(img.Bounds().Dy())/float32(img.Bounds().Dx())))
	return container.NewVBox(container.NewHBox(i), words)
}

// pictureWidth is how wide a picture is shown at most, toolkit units.
const pictureWidth = 660

// text sets a paragraph.
func (m *Manual) text(s string, size fyne.ThemeSizeName, bold bool) *widget.RichText {
	var segs []widget.RichTextSegment
	for _, p := range spans(s) {
		if p.link != "" {
			segs = append(segs, &widget.HyperlinkSegment{Text: p.text, OnTapped: func() { m.follow(p.link) }})
			continue
		}
		style := widget.RichTextStyleInline
		style.SizeName = size
		style.TextStyle = fyne.TextStyle{Bold: p.bold || bold, Italic: p.italic, Monospace: p.code}
		segs = append(segs, &widget.TextSegment{Text: p.text, Style: style})
	}
	t := widget.NewRichText(segs...)
	t.Wrapping = fyne.TextWrapWord
	return t
}
