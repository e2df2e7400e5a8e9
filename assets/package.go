package assets

import "embed"

// Package holds what a desktop is told of the program: its entry, its file types, what a
// software centre shows. @VERSION@ and @DATE@ are filled in by cmd/release.
//
//go:embed package
var Package embed.FS
