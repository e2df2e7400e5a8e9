package assets

import "embed"

//go:embed manual/*.md
var manual embed.FS

//go:embed manual/pictures/*.jpg
var pictures embed.FS

// ManualPicture returns a picture of the manual, a JPEG, by what its pages call it
// ("pictures/edge.jpg"), nil when there is none. They are made by make shots.
func ManualPicture(name string) []byte {
	b, err := pictures.ReadFile("manual/" + name)
	if err != nil {
		return nil
	}
	return b
}

// ManualPage returns a page of the manual in Markdown by its name ("noise" is
// manual/noise.md), nil when there is none. "README" lists the pages.
func ManualPage(name string) []byte {
	b, err := manual.ReadFile("manual/" + name + ".md")
	if err != nil {
		return nil
	}
	return b
}

// ManualPages returns the names of the pages in the order of the alphabet,
// "README" among them.
func ManualPages() []string {
	entries, err := manual.ReadDir("manual")
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name()[:len(e.Name())-len(".md")])
	}
	return names
}
