package assets

import "embed"

// Report are the parts of the report that a browser shows: page.html, a template of
// package html/template, with page.css and page.js, which it embeds.
//
//go:embed report/page.html report/page.css report/page.js
var Report embed.FS
