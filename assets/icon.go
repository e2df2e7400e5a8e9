package assets

import _ "embed"

// Icon is the program's icon, a PNG of 512 pixels drawn by cmd/mkicon.
//
//go:generate go run ../cmd/mkicon icon.png
//go:embed icon.png
var Icon []byte
