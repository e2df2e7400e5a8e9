package session

import (
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/numeric/legible"
)

// Notice is one sentence above the pictures that a person should know of, with one or two
// things to do about it. It stays until it is closed or the cause is gone; notices with
// one id replace each other.
type Notice struct {
	ID      string
	Text    string
	Actions []Action
	Lasting bool // it is not about the open roll: it stays when another is opened, and stands first
}

// Action is something to do about a notice; one of what it does is set.
type Action struct {
	Words   string
	Change  Change // of the state
	Command string // of the window, by its id
	Run     func() // of whoever gave the notice
	Stay    bool   // the notice stays: there is more to do about it
}

// Notices returns what is to be said above the pictures, in order.
func (s *State) Notices() []Notice {
	if p := s.placing; p != nil && s.Index(p.File) >= 0 {
		at := s.roll.Frames[s.Index(p.File)].Stop
		return append(slices.Clone(s.notices), Notice{ID: placingID, Text: p.Words(at),
			Actions: []Action{{Words: "Keep", Change: EndPlacing{Keep}}, {Words: "Leave", Change: EndPlacing{Leave}}}})
	}
	return s.notices
}

// placingID is the id of the words on the frame that is being placed.
const placingID = "placing"

// Notify says something above the pictures.
type Notify struct{ Notice }

func (c Notify) apply(s *State) Effect {
	s.notify(c.Notice)
	return Effect{Redraw: Notices}
}

// CloseNotice takes a notice away.
type CloseNotice struct{ ID string }

func (c CloseNotice) apply(s *State) Effect {
	if c.ID == placingID {
		return EndPlacing{Leave}.apply(s)
	}
	s.dismiss(func(id string) bool { return id == c.ID })
	return Effect{Redraw: Notices}
}

// findingID begins the ids of what the pictures contradict: it goes before what was only
// assumed.
const findingID = "finding "

func (s *State) notify(n Notice) {
	s.notices = slices.Clone(s.notices)
	for i := range s.notices {
		if s.notices[i].ID == n.ID {
			s.notices[i] = n
			return
		}
	}
	at := len(s.notices)
	if n.Lasting {
		at = 0
	} else if strings.HasPrefix(n.ID, findingID) {
		at = 0
		for at < len(s.notices) && (s.notices[at].Lasting || strings.HasPrefix(s.notices[at].ID, findingID)) {
			at++
		}
	}
	s.notices = slices.Insert(s.notices, at, n)
}

func (s *State) dismiss(which func(id string) bool) {
	s.notices = slices.DeleteFunc(slices.Clone(s.notices), func(n Notice) bool { return which(n.ID) })
}

// labels returns what is to be done about a label that is wrong.
func labels() []Action { return []Action{{Words: "Label the frames…", Command: "labels"}} }

// sayFindings notes what the roll as a whole brought to light that a judge must know before
// judging: scans that were not scanned alike, and labels that the pictures contradict.
func (s *State) sayFindings() {
	s.dismiss(func(id string) bool { return strings.HasPrefix(id, findingID) })
	if s.film.Response == nil {
		return
	}
	scan := s.film.Response.Scan
	if scan.Fixed != nil && !*scan.Fixed {
		s.notify(Notice{ID: findingID + "scan", Text: strings.Join(scan.Findings, " ")})
	}
	if scan.Reversed {
		s.notify(Notice{ID: findingID + "scan", Text: scan.Reason, Actions: labels()})
	}
	for i, l := range s.film.Response.Labels {
		s.notify(Notice{ID: findingID + "label " + strconv.Itoa(i), Text: Sentence(l.Text), Actions: labels()})
	}
}

// starters are the words that sentences of ours begin with; any other first word is the
// name of a file, which keeps its letters.
var starters = map[string]bool{"the": true, "a": true, "an": true, "no": true, "none": true, "this": true, "that": true, "these": true,
	"there": true, "unsaved": true, "one": true, "some": true, "two": true, "give": true, "so": true, "nothing": true, "choose": true, "what": true}

// Sentence returns a message with its capital and full stop. A file name keeps its own first
// letter.
func Sentence(s string) string {
	s = legible.Line(strings.TrimSpace(s))
	if s == "" {
		return s
	}
	if first, _, _ := strings.Cut(s, " "); starters[first] {
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, "!") {
		s += "."
	}
	return s
}

// someNames joins names for a sentence: "a", "a and b", "a, b and 3 more".
func someNames(names []string) string {
	switch n := len(names); {
	case n == 0:
		return ""
	case n == 1:
		return names[0]
	case n <= 3:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	default:
		return strings.Join(names[:2], ", ") + " and " + strconv.Itoa(n-2) + " more"
	}
}
