package assets

import _ "embed"

// About is the page "What Stopladder measures", in Markdown.
//
//go:embed about.md
var About string
