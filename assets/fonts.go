// Package assets holds what the program carries inside it.
package assets

import _ "embed"

// The type of everything that is drawn without the window toolkit: Roboto,
// under the Apache License 2.0 (fonts/LICENSE.txt). Its figures are tabular, so
// columns of numbers align.
var (
	//go:embed fonts/Roboto-Regular.ttf
	FontRegular []byte
	//go:embed fonts/Roboto-Medium.ttf
	FontMedium []byte
)
