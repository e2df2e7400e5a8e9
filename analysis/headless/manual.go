package headless

import (
	"slices"
	"strings"

	"stopladder/assets"
)

// contents is the page of the manual that lists the others.
const contents = "README"

type manualCmd struct {
	Page string `arg:"" optional:"" help:"A page by its name, for example noise; without it the list of pages."`
}

func (c *manualCmd) Run(std streams) error {
	name := contents
	if c.Page != "" {
		name = strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(c.Page), ".md"), ".json")
	}
	page := assets.ManualPage(name)
	if page == nil {
		page = assets.Schema(name) // the pages speak of them
	}
	if page == nil {
		pages := slices.DeleteFunc(assets.ManualPages(), func(n string) bool { return n == contents })
		return badCall("the manual has no page %q; it has %s", c.Page, strings.Join(pages, ", "))
	}
	_, err := std.out.Write(page)
	return err
}
