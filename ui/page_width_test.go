package ui

import (
	"testing"

	"stopladder/ui/page"
)

// A page that asks for more than its width takes it from the pictures.
func TestPagesKeepTheirWidth(t *testing.T) {
	w := open(t, Options{})
	for panel, p := range w.side.pages {
		if got := p.Content().MinSize().Width; got > page.Width+8 {
			t.Errorf("the page of %s asks for %v, a page has %v", panel, got, page.Width)
		}
	}
}
