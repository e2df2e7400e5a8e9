package plan

import (
	"fmt"
	"strconv"
	"strings"
)

// Format is a picture format and what a roll of it holds.
type Format struct {
	Name   string // "6x7"
	Film   string // "120", "220", "135", "sheet"
	Frames int    // on a roll; 0: sheets, no end
}

// Formats returns the formats that are known, by name. The numbers of frames are
// common practice, no source; a 6x4.5 back gives 15 or 16, and a 135 film often one or
// two more than it says.
func Formats() []Format {
	return []Format{
		{"35 mm", "135", 36}, {"35 mm, 24 frames", "135", 24},
		{"6x4.5", "120", 15}, {"6x4.5, 16 frames", "120", 16}, {"6x6", "120", 12}, {"6x7", "120", 10}, {"6x8", "120", 9},
		{"6x9", "120", 8}, {"6x12", "120", 6}, {"6x17", "120", 4},
		{"6x4.5 on 220", "220", 30}, {"6x6 on 220", "220", 24}, {"6x7 on 220", "220", 20}, {"6x9 on 220", "220", 16},
		{"sheet film", "sheet", 0},
	}
}

// formatNames are other spellings.
var formatNames = map[string]string{
	"135": "35 mm", "35mm": "35 mm", "35": "35 mm", "24x36": "35 mm", "35mm-36": "35 mm", "135-36": "35 mm",
	"35mm-24": "35 mm, 24 frames", "135-24": "35 mm, 24 frames", "645": "6x4.5", "645-16": "6x4.5, 16 frames", "6x4.5-16": "6x4.5, 16 frames",
	"66": "6x6", "67": "6x7", "68": "6x8", "69": "6x9", "612": "6x12", "617": "6x17", "sheet": "sheet film", "sheets": "sheet film",
	"6x4.5-220": "6x4.5 on 220", "6x6-220": "6x6 on 220", "6x7-220": "6x7 on 220", "6x9-220": "6x9 on 220",
}

// ParseFormat finds a format by its name or a usual spelling of it: "6x7", "67",
// "35mm", "135-24", "6x7-220", "sheet".
func ParseFormat(text string) (Format, error) {
	t := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("×", "x", "6,", "6x", ",5", ".5").Replace(text)), " "))
	if name, other := formatNames[strings.ReplaceAll(t, " ", "")]; other {
		t = name
	}
	for _, f := range Formats() {
		if f.Name == t {
			return f, nil
		}
	}
	return Format{}, fmt.Errorf("%s is no format that is known here: write 35mm, 6x4.5, 6x6, 6x7, 6x8, 6x9, 6x12, 6x17 or sheet, or give the number of frames", quote(text))
}

func parseCount(text, what string, most int) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || n < 1 || n > most {
		return 0, fmt.Errorf("%s is no %s: write a whole number from 1 to %d", quote(text), what, most)
	}
	return n, nil
}
