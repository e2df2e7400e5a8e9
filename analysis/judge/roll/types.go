package roll

import (
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
)

// Ext is the roll file's extension.
const Ext = ".stopladder"

// Version of the roll file that this program writes.
const Version = 1

// Verdict is the judge's word on a frame; "" is not judged yet.
type Verdict string

// The verdicts (assets/manual/words.md).
const (
	Unjudged Verdict = ""
	Holds    Verdict = "holds"   // as good as the base for this use
	Strains  Verdict = "strains" // usable with work and a visible cost
	Breaks   Verdict = "breaks"  // not usable
)

// Frame is one exposure and its scan.
type Frame struct {
	File    string     `json:"file"`             // path; relative to the roll file with forward slashes when saved, absolute in memory
	SHA256  string     `json:"sha256,omitempty"` // lower-case hex, of the whole file when it was last read
	Bytes   int64      `json:"bytes,omitempty"`  // size of the file when it was last read; 0 unknown
	Stop    float64    `json:"stop"`             // labelled stop
	Origin  Origin     `json:"stopFrom"`         // where the label came from
	Verdict Verdict    `json:"verdict,omitempty"`
	Note    string     `json:"note,omitempty"`
	Area    *Area      `json:"imageArea,omitempty"` // set by hand; nil: found by the program
	Placed  *Placement `json:"placement,omitempty"` // registration set by hand; nil: found by the program

	// Hand is the salvage of this frame that the judge made by hand; nil: none.
	Hand *correction.Settings `json:"salvageByHand,omitempty"`

	// Preview is the scan that File is a light preview of; nil: File is the scan.
	Preview *Original `json:"previewOf,omitempty"`

	extra, areaExtra extra

	elsewhere, stands string // what the roll file says where File is a place where nothing is, and that place; see elsewhere.go
}

// Placement lays the base frame's content on this frame's by hand: rotation in
// degrees, counter-clockwise as seen, about the picture's centre, and scale come
// first, then the shift in full-resolution pixels, right and down.
type Placement struct {
	DX       float64 `json:"dx"`
	DY       float64 `json:"dy"`
	Rotation float64 `json:"rotation"`
	Scale    float64 `json:"scale"`
}

// Area is an image area in full-resolution pixels of the upright scan.
type Area struct {
	X int `json:"x"`
	Y int `json:"y"`
	W int `json:"w"`
	H int `json:"h"`
}

// Patch is a named spot of the scene, read in every frame. Its place is of the
// base frame; the registration carries it into the others.
type Patch struct {
	Name    string  `json:"name"`
	X       float64 `json:"x"`                 // centre, full-resolution pixels of the upright base frame
	Y       float64 `json:"y"`                 //
	R       float64 `json:"r"`                 // half side, full-resolution pixels
	Neutral bool    `json:"neutral,omitempty"` // grey in the scene: casts are told against it
}

// Origin says where a frame's label came from.
type Origin string

// Origins of a label.
const (
	FromName  Origin = "name"  // read from the file name
	FromOrder Origin = "order" // by position among the files, confirmed by the user
	ByHand    Origin = "hand"
	FromDemo  Origin = "demo"
	FromPlan  Origin = "plan" // from the plan or log that lies beside the scans
)

// Range is the judge's range in stops, quarter steps, Lo <= Hi. New marks are
// snapped (stops.Quarter); what a file holds is kept as it is.
type Range struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

// Marks are one judge's marks on the roll. The first of a roll's are those that are being
// made: its verdicts stand with the frames. All others are opinions that were given, of other
// judges or of earlier days; they are added and never changed.
type Marks struct {
	Judge   string `json:"judge,omitempty"`
	Range   *Range `json:"range,omitempty"`
	Finding string `json:"finding,omitempty"` // what the roll comes to in the judge's words; it stands beside the measured finding

	Session  string `json:"session,omitempty"`  // told apart by it, 16 hex digits
	Date     string `json:"date,omitempty"`     // day on which they were done, ISO 8601
	Seen     string `json:"seen,omitempty"`     // "" the scans were judged, OnPreviews light previews
	Knowing  bool   `json:"knowing,omitempty"`  // made or changed after others' marks were seen
	Verdicts []Said `json:"verdicts,omitempty"` // none for the roll's own, whose verdicts stand with the frames

	extra, rangeExtra extra
}

// Roll is one test. It is not safe for concurrent use: give a Clone to a
// goroutine that saves in the background.
type Roll struct {
	Title          string               `json:"title,omitempty"`
	Stock          string               `json:"stock,omitempty"`
	Exposure       string               `json:"baseExposure,omitempty"`   // as the judge writes it, e.g. "f/11 1/125, incident"
	Date           string               `json:"date,omitempty"`           // free text, ISO 8601 suggested
	Scene          string               `json:"scene,omitempty"`          // what was photographed, in which light
	Metering       string               `json:"metering,omitempty"`       // how the base exposure was metered
	Development    string               `json:"development,omitempty"`    // process, push or pull
	Lab            string               `json:"lab,omitempty"`            // who developed and scanned
	Scanner        string               `json:"scanner,omitempty"`        // and with which settings
	AssumedProfile string               `json:"assumedProfile,omitempty"` // for scans without one; "" is sRGB
	NoisyLimit     float64              `json:"noisyLimit,omitempty"`     // L* units above which shadows count as Noisy; 0: the default
	BaseFile       string               `json:"baseFrame,omitempty"`      // File of the base frame chosen by hand; "" is the frame nearest to 0
	Frames         []Frame              `json:"frames"`
	Marks          []Marks              `json:"marks,omitempty"`
	Patches        []Patch              `json:"patches,omitempty"`
	Limits         *criteria.Set        `json:"limits,omitempty"`         // what a frame may cost to hold and to strain; nil: the default set
	View           *correction.Settings `json:"viewCorrection,omitempty"` // shown on all frames alike; nil: as scanned
	Readings       *kept.Readings       `json:"readings,omitempty"`       // what was measured, for lists and comparisons without the scans; nil: not kept yet
	Surround       int                  `json:"surround,omitempty"`       // neutral grey around the pictures, code 1..255 of sRGB; 0: DefaultSurround
	Demo           string               `json:"demo,omitempty"`           // "reversal" or "negative": frames are rendered, not read

	Sitting *Sitting `json:"sitting,omitempty"` // nil: none was begun
	Blind   []Blind  `json:"blind,omitempty"`   // blind judgings, the latest last

	path  string // absolute path of the roll file; "" while never saved
	disk  string // SHA-256 of that file's text as it was last read or written; "" not known
	extra extra
}
