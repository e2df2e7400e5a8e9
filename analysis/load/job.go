// Package load takes paths to a measured roll: which files they are, which stop
// each carries, what can be read of each, and how each stands beside the base
// frame. The window and the headless commands both open rolls through it; the
// window follows the events, the commands wait for the result.
package load

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/scan"
)

// Options say how a roll is read. The zero value is ready to use.
type Options struct {
	Stops  []float64   // labels in the order of the files; nil: from the file names
	Limits scan.Bounds // of a single scan; the zero value is scan.DefaultBounds

	Program string // version of the program, which readings that are kept say

	// Open gives a frame of the roll; nil opens its file, or renders the demo's.
	Open func(r *roll.Roll, i int) (scan.Source, error)

	// Own reports of the first bytes of a file in a folder whether it is a picture that
	// this program wrote, as sheets and plots are: they are no scans. Files that are named
	// themselves are not asked about. nil: all are scans.
	Own func(head []byte) bool
}

// Job is a roll that is about to be read.
type Job struct {
	Roll     *roll.Roll
	Unknown  []bool          // frames that carry no label, parallel to Roll.Frames; nil: all are labelled
	Own      string          // what of a folder was left out as the program's own exports, "" for nothing
	Notes    []string        // what the user must know of the labels and of the roll file
	Proposal *stops.Proposal // a question about labels; parallel to Roll.Frames; nil: nothing to ask

	Plan         string       // plan or log beside the scans that labelled them, "" for none
	PlanFile     string       // path of the plan or log that was read, whether it labelled them or not
	Title, Stock string       // of that plan
	Question     string       // of a plan beside the scans that does not tell which scan is which
	Offers       []plan.Offer // its answers, likeliest first

	plan  *plan.File // of the offers, or that labelled the scans
	files []string   // as it has them
}

// Of returns the job of measuring a roll as the judge has it now: what its labels say is
// looked at anew.
func Of(r *roll.Roll) *Job {
	job := &Job{Roll: r.Clone()}
	names := make([]string, len(r.Frames))
	labels := make([]float64, len(r.Frames))
	planned := len(r.Frames) > 0
	for i, f := range r.Frames {
		names[i], labels[i] = name(f), f.Stop
		planned = planned && f.Origin == roll.FromPlan
	}
	if planned {
		job.Notes = append(job.Notes, "The stops are from the plan of the roll, as they were really exposed.")
	}
	job.note(stops.Inspect(names, labels))
	return job
}

func (j *Job) unlabelled(i int) bool { return i < len(j.Unknown) && j.Unknown[i] }

// Base returns the index of the base frame: the one that the judge chose, else the
// labelled frame at 0, else the one nearest to it; -1 when no frame is labelled.
func (j *Job) Base() int {
	var labels []float64
	var index []int
	for i, f := range j.Roll.Frames {
		if j.unlabelled(i) {
			continue
		}
		if f.File == j.Roll.BaseFile {
			return i
		}
		labels = append(labels, f.Stop)
		index = append(index, i)
	}
	at, _ := stops.Base(labels)
	if at < 0 {
		return -1
	}
	return index[at]
}

// CallError says that what was asked for makes no sense as asked: another call
// may succeed on the same files.
type CallError struct{ Text string }

func (e *CallError) Error() string { return e.Text }

func badCall(format string, args ...any) error { return &CallError{fmt.Sprintf(format, args...)} }

// Plan finds the files that paths stand for (folders, scans, or one roll file)
// and their labels. It reads no pixels. Files that turn out to be no pictures
// stay in the roll, so that the reading of them can say so.
//
// Errors are a *CallError, or say which path cannot be used and why.
func Plan(paths []string, opt Options) (*Job, error) {
	for _, p := range paths {
		if strings.EqualFold(filepath.Ext(p), roll.Ext) && !isDir(p) {
			if len(paths) > 1 {
				return nil, badCall("%s is a roll file and names its scans itself; give it alone", filepath.Base(p))
			}
			if opt.Stops != nil {
				return nil, badCall("%s is a roll file and has its labels already; leave the list of stops out, or give the scans instead", filepath.Base(p))
			}
			return planRollFile(p)
		}
	}
	files, own, err := expand(paths, opt.Own)
	if err != nil {
		return nil, err
	}
	job, err := planFiles(files, opt)
	if err == nil {
		job.Own = ownWords(own)
	}
	return job, err
}

// ownWords say which pictures of a folder are not read as scans, "" for none.
func ownWords(own []string) string {
	switch n := len(own); n {
	case 0:
		return ""
	case 1:
		return "The folder also holds " + filepath.Base(own[0]) + ", which this program exported; it is not read as a scan."
	default:
		names := make([]string, 0, 3)
		for _, f := range own[:min(n, 3)] {
			names = append(names, filepath.Base(f))
		}
		more := ""
		if n > len(names) {
			more = " and others"
		}
		return fmt.Sprintf("The folder also holds %d pictures that this program exported (%s%s); they are not read as scans.", n, strings.Join(names, ", "), more)
	}
}

// ownHead is how much of a file is looked at for who wrote it: what says so comes first.
const ownHead = 1 << 16

// wrote reports whether own says of a file's beginning that this program wrote it.
func wrote(path string, own func([]byte) bool) bool {
	if own == nil || !slices.Contains([]string{".png", ".jpg", ".jpeg"}, strings.ToLower(filepath.Ext(path))) { // it writes no other pictures
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false // the reading says why
	}
	defer f.Close()
	head := make([]byte, ownHead)
	n, _ := f.ReadAt(head, 0)
	return own(head[:n])
}

func planRollFile(path string) (*Job, error) {
	r, problems, err := roll.Load(path)
	if err != nil {
		return nil, err
	}
	job := Of(r)
	job.Roll = r
	var notes []string
	for _, p := range problems {
		notes = append(notes, p.Text)
	}
	if note := r.PreviewNote(); note != "" {
		notes = append(notes, note)
	}
	job.Notes = append(notes, job.Notes...)
	return job, nil
}

func planFiles(files []string, opt Options) (*Job, error) {
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = filepath.Base(f)
	}
	type labelled struct {
		file            string
		stop            float64
		origin          roll.Origin
		unknown         bool
		proposed, other float64
	}
	frames := make([]labelled, len(files))
	var job Job
	if opt.Stops == nil {
		if planned, ok := fromPlan(files, &job); ok {
			r := &roll.Roll{Title: job.Title, Stock: job.Stock, Frames: planned}
			r.Sort()
			of := Of(r)
			job.Roll, job.Unknown = of.Roll, make([]bool, len(planned))
			job.Notes = append(job.Notes, of.Notes...)
			return &job, nil
		}
	}
	var ask *stops.Proposal
	if opt.Stops != nil {
		if len(opt.Stops) != len(files) {
			return nil, badCall("the list has %s for %s (%s); give one stop for each scan in this order",
				count(len(opt.Stops), "stop"), count(len(files), "scan"), strings.Join(names, ", "))
		}
		for i, f := range files {
			frames[i] = labelled{file: f, stop: opt.Stops[i], origin: roll.ByHand}
		}
		job.note(stops.Inspect(names, opt.Stops))
	} else {
		found := stops.Assign(names)
		ask = found.Proposal
		for i, f := range files {
			l := found.Frames[i]
			frames[i] = labelled{file: f, stop: l.Stop, origin: roll.FromName, unknown: !l.Known}
			if !l.Known {
				frames[i].stop, frames[i].origin = 0, ""
			}
			if ask != nil {
				frames[i].proposed, frames[i].other = ask.Stops[i], ask.Reverse[i]
			}
		}
		job.note(found.Findings)
	}
	// The order of the ladder, under first; what has no label comes last.
	slices.SortStableFunc(frames, func(a, b labelled) int {
		switch {
		case a.unknown != b.unknown && a.unknown:
			return 1
		case a.unknown != b.unknown:
			return -1
		case a.stop < b.stop:
			return -1
		case a.stop > b.stop:
			return 1
		}
		return 0
	})
	job.Roll = &roll.Roll{}
	if ask != nil {
		job.Proposal = &stops.Proposal{Question: ask.Question}
	}
	for _, f := range frames {
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: f.file, Stop: f.stop, Origin: f.origin})
		job.Unknown = append(job.Unknown, f.unknown)
		if ask != nil {
			job.Proposal.Stops = append(job.Proposal.Stops, f.proposed)
			job.Proposal.Reverse = append(job.Proposal.Reverse, f.other)
		}
	}
	return &job, nil
}

func (j *Job) note(findings []stops.Finding) {
	for _, f := range findings {
		j.Notes = append(j.Notes, f.Text)
	}
}

// expand expands as scan.Expand does, path by path, except that a scan that is named but
// not there, and a file in a folder that is called a picture and is none, stay in the
// roll: they are reported with it, and the rest is measured. Pictures in a folder that own
// says are the program's are left out.
func expand(paths []string, own func([]byte) bool) (files, left []string, err error) {
	if len(paths) == 0 {
		return nil, nil, badCall("no scan was named; give a folder, scans or a roll file")
	}
	if slices.Contains(paths, "") {
		return nil, nil, badCall("one of the paths is empty; give a folder, scans or a roll file")
	}
	for _, p := range paths {
		abs, err := filepath.Abs(p)
		if err != nil {
			return nil, nil, fmt.Errorf("%s cannot be found: %w", filepath.Base(p), err)
		}
		inside, skipped, err := scan.Expand([]string{abs})
		if errors.Is(err, fs.ErrNotExist) && calledPicture(abs) {
			inside, err = []string{abs}, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if isDir(abs) {
			for _, s := range skipped {
				if calledPicture(s) && !isDir(s) {
					inside = append(inside, s)
				}
			}
			slices.SortFunc(inside, func(a, b string) int { return stops.Natural(filepath.Base(a), filepath.Base(b)) })
			if len(inside) == 0 {
				return nil, nil, fmt.Errorf("%s holds no TIFF, PNG or JPEG files; name the folder that the scans are in", filepath.Base(abs))
			}
			var scans []string
			for _, f := range inside {
				if wrote(f, own) {
					left = append(left, f)
				} else {
					scans = append(scans, f)
				}
			}
			if inside = scans; len(inside) == 0 {
				return nil, nil, fmt.Errorf("%s holds no scans, only pictures that this program exported; name the folder that the scans are in", filepath.Base(abs))
			}
		}
		for _, f := range inside {
			if !slices.Contains(files, f) { // a folder and one of its scans may both be named
				files = append(files, f)
			}
		}
	}
	return files, left, nil
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func isDir(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}

// calledPicture reports whether a name promises a picture that scan reads.
func calledPicture(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".tif", ".tiff", ".png", ".jpg", ".jpeg":
		return true
	}
	return false
}
