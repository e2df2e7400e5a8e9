package stops

// Code names a kind of finding; it is stable, for programs and tests.
type Code string

// The findings about the labels of a roll.
const (
	NoLabels    Code = "no-labels"    // no name carries a stop: see Assignment.Proposal
	SomeMissing Code = "some-missing" // some names carry a stop, these do not
	Clash       Code = "clash"        // several frames claim one stop
	NoBase      Code = "no-base"      // no frame at 0: the nearest stands in
	Single      Code = "single-frame" // nothing to compare with
	ByContext   Code = "by-context"   // names that were read with the help of the others
	Counter     Code = "counter"      // names that could be stops or a counter; left unlabelled
)

// Finding is one thing that the user must know about the labels: one sentence
// that names the files and says what to do. Frames are indices into the names.
type Finding struct {
	Code   Code
	Text   string
	Frames []int
}

// Labelled is one name with the stop that was read from it.
type Labelled struct {
	Name  string
	Stop  float64 // stops, over positive; meaningful when Known
	Known bool
}

// Proposal is a question to the user about names without labels. Stops and
// Reverse run parallel to the names as they were given: the labels if the answer
// is yes, and the labels if the order is the other way round.
type Proposal struct {
	Question string
	Stops    []float64
	Reverse  []float64
}

// Assignment is what the names of a roll say.
type Assignment struct {
	Frames   []Labelled // in the order given
	Base     int        // index of the base frame among the labelled; -1 while none is labelled
	Findings []Finding
	Proposal *Proposal // nil where there is nothing to ask
}

// Assign reads the labels of a whole roll from its file names (without folder).
func Assign(names []string) Assignment { return Assignment{Base: -1} }

// Inspect gives the findings for labels that are already decided, by hand or by
// a list: clashes, no frame at 0, a single frame.
func Inspect(names []string, labels []float64) []Finding { return nil }

// Base returns the index of the base among labels: the one at 0 (exact), else
// the nearest to 0, the over one of two equally near; -1 for none.
func Base(labels []float64) (index int, exact bool) { return -1, false }

// Natural compares names as people order them: runs of digits by their value.
func Natural(a, b string) int { return 0 }
