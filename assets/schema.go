// Package assets carries the files that are built into the program.
package assets

import "embed"

//go:embed schema/*.json
var schemas embed.FS

// Schema returns the JSON Schema of that name ("roll-1" is schema/roll-1.json),
// nil when there is none.
func Schema(name string) []byte {
	b, err := schemas.ReadFile("schema/" + name + ".json")
	if err != nil {
		return nil
	}
	return b
}
