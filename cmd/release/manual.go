package main

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"

	"stopladder/assets"
)

const manualHead = `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>%s</title>
<style>
html { background: #fff; color: #1a1a1a; font: 16px/1.5 system-ui, sans-serif; }
body { max-width: 52rem; margin: 0 auto; padding: 1rem 1.2rem 4rem; overflow-wrap: break-word; }
h1 { font-size: 1.7rem; } h2 { font-size: 1.2rem; margin-top: 2rem; }
table { border-collapse: collapse; display: block; overflow-x: auto; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.7rem 0.3rem 0; border-bottom: 1px solid #ccc; }
code, pre { font-size: 0.92em; background: #f2f2f2; } pre { padding: 0.6rem; overflow-x: auto; }
img { max-width: 100%%; height: auto; }
</style>
</head>
<body>
<p><a href="index.html">The manual</a></p>
`

// pageLink finds links from page to page, and those that leave the manual.
var pageLink = regexp.MustCompile(`href="([^"]+)"`)

// manualPages adds the manual as HTML under dir, with its pictures and the schemas that it
// speaks of.
func manualPages(all tree, dir string) error {
	md := goldmark.New(goldmark.WithExtensions(extension.GFM), goldmark.WithParserOptions(parser.WithAutoHeadingID()))
	pages := map[string]bool{}
	for _, name := range assets.ManualPages() {
		pages[name] = true
	}
	for name := range pages {
		var body bytes.Buffer
		text := assets.ManualPage(name)
		if err := md.Convert(text, &body); err != nil {
			return err
		}
		title, _, _ := strings.Cut(strings.TrimPrefix(string(text), "# "), "\n")
		var failed error
		out := pageLink.ReplaceAllStringFunc(body.String(), func(s string) string {
			to, err := linkTo(pageLink.FindStringSubmatch(s)[1], pages, all, dir)
			if err != nil {
				failed = fmt.Errorf("%s: %w", name, err)
			}
			return `href="` + to + `"`
		})
		if failed != nil {
			return failed
		}
		all.add(dir+htmlName(name), []byte(fmt.Sprintf(manualHead, html.EscapeString(title))+out+"</body>\n</html>\n"))
		for _, m := range regexp.MustCompile(`src="(pictures/[^"]+)"`).FindAllStringSubmatch(out, -1) {
			picture := assets.ManualPicture(m[1])
			if picture == nil {
				return fmt.Errorf("%s: no picture %s", name, m[1])
			}
			all.add(dir+m[1], picture)
		}
	}
	return nil
}

func htmlName(page string) string {
	if page == "README" {
		page = "index"
	}
	return page + ".html"
}

// linkTo is where a link of the repository's pages leads in the package. A schema comes
// along; the developers' guide, which does not, is left where it is in name.
func linkTo(to string, pages map[string]bool, all tree, dir string) (string, error) {
	file, anchor, has := strings.Cut(to, "#")
	if has {
		anchor = "#" + anchor
	}
	switch {
	case file == "" || strings.Contains(file, "://"):
		return to, nil
	case strings.HasPrefix(file, "../schema/"):
		name := strings.TrimPrefix(file, "../schema/")
		text := assets.Schema(strings.TrimSuffix(name, ".json"))
		if text == nil {
			return "", fmt.Errorf("no schema is called %s", name)
		}
		all.add(dir+"schema/"+name, text)
		return "schema/" + name, nil
	case file == "../../DEVELOPERS.md":
		return "index.html", nil
	}
	page, ok := strings.CutSuffix(file, ".md")
	if !ok || !pages[page] {
		return "", fmt.Errorf("a link leads to %s, which is not in the package", to)
	}
	return htmlName(page) + anchor, nil
}
