package roll

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
)

// How far a search for missing scans goes.
const (
	maxDepth = 6      // folders below the named one
	maxSeen  = 20_000 // files
)

// Moved is a missing scan that was found again.
type Moved struct {
	Frame    int // index into Frames
	From, To string
}

// Relocate looks for the missing scans in dir and below and changes the frames
// that it finds, by the name first (letters without regard to case), then under
// any name by size and hash. Where the roll holds a hash, only the very same
// content is taken; a file of the right name with other content, and several files
// that could be meant, are told as problems and the frame is left as it is. Scans
// are only read.
func (r *Roll) Relocate(ctx context.Context, dir string) (moved []Moved, problems []Problem) {
	if r.Demo != "" {
		return nil, nil
	}
	var f *finder
	for i := range r.Frames {
		frame := &r.Frames[i]
		if _, err := os.Stat(frame.File); err == nil || ctx.Err() != nil {
			continue
		}
		if f == nil {
			f = r.search(ctx, dir, maxDepth)
			problems = append(problems, f.problems...)
		}
		found, problem := f.find(ctx, *frame)
		if problem != nil {
			problem.Frame = i
			problems = append(problems, *problem)
		}
		if found == "" {
			continue
		}
		moved = append(moved, Moved{i, frame.File, found})
		if r.BaseFile == frame.File {
			r.BaseFile = found
		}
		frame.File = found
	}
	return moved, problems
}

// finder knows the files of a folder.
type finder struct {
	files    []seenFile
	taken    map[string]bool // files that frames of the roll stand for already
	hashes   map[string]string
	problems []Problem
}

type seenFile struct {
	path string
	size int64
}

// search lists the files of dir down to depth folders below it. Linked folders
// are not entered.
func (r *Roll) search(ctx context.Context, dir string, depth int) *finder {
	f := &finder{taken: map[string]bool{}, hashes: map[string]string{}}
	for _, fr := range r.Frames {
		if _, err := os.Stat(fr.File); err == nil {
			f.taken[fr.File] = true
		}
	}
	root, err := filepath.Abs(dir)
	if err != nil {
		root = dir
	}
	unread := ""
	err = filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if ctx.Err() != nil {
			return fs.SkipAll
		}
		if err != nil {
			unread = path
			return nil
		}
		if e.IsDir() {
			rel, _ := filepath.Rel(root, path)
			below := strings.Count(filepath.ToSlash(rel), "/") + 1
			if path != root && (strings.HasPrefix(e.Name(), ".") || below > depth) {
				return fs.SkipDir
			}
			return nil
		}
		if len(f.files) == maxSeen {
			f.problems = append(f.problems, Problem{Code: SearchCut, Frame: -1, Text: fmt.Sprintf(
				"%s holds more than %d files and was not searched whole: name the folder of the scans itself.", quote(root), maxSeen)})
			return fs.SkipAll
		}
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			f.files = append(f.files, seenFile{path, info.Size()})
		}
		return nil
	})
	if err != nil || unread != "" {
		f.problems = append(f.problems, Problem{Code: NotAllSeen, Frame: -1, Text: fmt.Sprintf(
			"%s could not be searched whole: check that the folder is there and may be read.", quote(root))})
	}
	return f
}

// find returns where the scan of a missing frame is, "" for nowhere.
func (f *finder) find(ctx context.Context, frame Frame) (path string, problem *Problem) {
	if f == nil {
		return "", nil
	}
	name := frame.Name()
	var named, sized []seenFile
	for _, s := range f.files {
		switch {
		case f.taken[s.path]:
		case strings.EqualFold(filepath.Base(s.path), name):
			named = append(named, s)
		case frame.Bytes > 0 && s.size == frame.Bytes:
			sized = append(sized, s)
		}
	}
	if frame.SHA256 == "" {
		switch len(named) {
		case 0:
			return "", nil
		case 1:
			f.taken[named[0].path] = true
			return named[0].path, nil
		}
		return "", &Problem{Code: Ambiguous, Text: fmt.Sprintf(
			"There are %d files called %s, among them %s: open the right one by hand.", len(named), quote(name), quote(named[0].path))}
	}
	for _, s := range slices.Concat(named, sized) {
		if frame.Bytes > 0 && s.size != frame.Bytes {
			continue
		}
		if f.hash(ctx, s.path) == frame.SHA256 {
			f.taken[s.path] = true
			return s.path, nil
		}
	}
	if len(named) > 0 && ctx.Err() == nil {
		return "", &Problem{Code: Changed, Found: named[0].path, Text: fmt.Sprintf(
			"%s has the name of the missing scan but not the content that was judged: open it by hand if it is the right one.", quote(named[0].path))}
	}
	return "", nil
}

func (f *finder) hash(ctx context.Context, path string) string {
	sum, ok := f.hashes[path]
	if !ok {
		sum, _, _ = Hash(ctx, path)
		f.hashes[path] = sum
	}
	return sum
}

// isNotDir reports whether a part of the path is a file.
func isNotDir(err error) bool { return errors.Is(err, syscall.ENOTDIR) }
