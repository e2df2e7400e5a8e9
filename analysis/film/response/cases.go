package response

// Case is what a difference between labels, pictures and scans looks like, as the manual's
// table of cases has it (assets/manual/faults.md). It says what was seen; a cause is named
// only where the figures leave one.
type Case string

// The cases, by the words of the manual's table.
const (
	SameExposure  Case = "one exposure under several labels"
	SwappedLabels Case = "two labels swapped"
	WholeStep     Case = "one frame a whole step off"
	RowOff        Case = "a row of frames off alike"
	BetweenSteps  Case = "one frame off by another figure"
	MostLabels    Case = "most labels off"
	DarkensCase   Case = "frames that darken as labels rise"
	AlikeCase     Case = "frames that hardly differ"
	StretchedCase Case = "the same ends in all frames"
	ChannelsCase  Case = "channels or frames moved by a gain"
	BentCase      Case = "another curve in some frames"
	FollowingCase Case = "gains that follow the exposure"
	StrayCase     Case = "stray light of the scanner"
	OpenCase      Case = "a misfit without any gain"
	LittleCase    Case = "a little left over"
	FixedCase     Case = "nothing left over"
)
