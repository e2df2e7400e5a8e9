package stops

import "errors"

// Parse reads a stop as somebody types it.
func Parse(text string) (float64, error) { return 0, errors.New("stops.Parse is not built yet") }

// ParseList reads a list of stops: "-3,-2,-1,0,+1", "-3..+4", "-3..+4/0.5".
func ParseList(text string) ([]float64, error) {
	return nil, errors.New("stops.ParseList is not built yet")
}

// FromName reads the stop in a file's name (without folder); ok is false where
// there is none or more than one reading.
func FromName(fileName string) (stop float64, ok bool) { return 0, false }
