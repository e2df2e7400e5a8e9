package roll

// BlockLine is one line of the title block: what the judge wrote about the test.
type BlockLine struct {
	Key  string  // as the roll file and the readings call it
	What string  // as it is called in a sentence
	Text *string // of the roll, to read and to change
}

// Block returns the title block, in the order in which it is asked for.
func (r *Roll) Block() []BlockLine {
	return []BlockLine{
		{"title", "title", &r.Title}, {"stock", "film stock", &r.Stock}, {"scene", "scene", &r.Scene},
		{"baseExposure", "base exposure", &r.Exposure}, {"metering", "metering", &r.Metering}, {"development", "development", &r.Development},
		{"lab", "lab", &r.Lab}, {"scanner", "scanner", &r.Scanner}, {"date", "date", &r.Date},
	}
}
