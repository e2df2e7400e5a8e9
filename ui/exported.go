package ui

import (
	"context"
	"net/url"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/ui/clip"
	"stopladder/ui/session"
)

// copied are the endings of pictures that the clipboard can hold.
var copied = []string{".png", ".jpg", ".jpeg"}

// exported says where what was exported stands, and offers what comes next: to open it, to
// show its folder, to copy a picture. at is a file, or a folder of which the notice is about
// what was written into it.
func (w *Window) exported(what, at string, folder bool) {
	dir := at
	n := session.Notice{ID: "exported " + what, Text: "The " + what + " stands in " + at + "."}
	if folder {
		n.Text = "The " + what + " stand in " + at + "."
	} else {
		n.Actions = append(n.Actions, session.Action{Words: "Open", Stay: true, Run: func() { w.hand(at) }})
		if slices.Contains(copied, strings.ToLower(filepath.Ext(at))) {
			n.Actions = append(n.Actions, session.Action{Words: "Copy picture", Stay: true, Run: func() { w.copyPicture(at) }})
		}
		dir = filepath.Dir(at)
	}
	n.Actions = append(n.Actions, session.Action{Words: "Show folder", Stay: true, Run: func() { w.hand(dir) }})
	w.apply(session.Notify{Notice: n})
}

// hand gives a file or a folder to the program that the system has for it.
func (w *Window) hand(path string) {
	if err := w.app.OpenURL(fileURL(filepath.ToSlash(path))); err != nil {
		w.say("Not opened", err)
	}
}

// fileURL is where an absolute path with forward slashes is found (RFC 8089, with its
// appendix E for drives and shares).
func fileURL(slashed string) *url.URL {
	u := &url.URL{Scheme: "file", Path: slashed}
	switch rest, share := strings.CutPrefix(slashed, "//"); {
	case share: // //host/share/...
		host, path, _ := strings.Cut(rest, "/")
		u.Host, u.Path = host, "/"+path
	case !strings.HasPrefix(slashed, "/"): // C:/...
		u.Path = "/" + slashed
	}
	return u
}

// copyPicture puts a picture that was exported into the clipboard.
func (w *Window) copyPicture(path string) {
	w.runner.Start("copy picture", func(context.Context, func(func())) func() {
		err := clip.File(path)
		return func() {
			if err != nil {
				w.say("Not copied", err)
				return
			}
			w.status.hint("The picture is in the clipboard")
		}
	})
}
