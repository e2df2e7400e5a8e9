// Package assets holds the data that is built into the program.
package assets

import _ "embed" // the demo scene is data

// Courtyard is the demo's scene, rendered and packed by cmd/mkscene.
//
//go:generate go run ../cmd/mkscene -o demo/courtyard.slsc
//go:embed demo/courtyard.slsc
var Courtyard []byte
