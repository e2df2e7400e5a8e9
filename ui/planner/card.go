package planner

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/show/card"
	"stopladder/ui/files"
)

func (p *Planner) askCard(size string) {
	if p.file == nil || p.wrong > 0 {
		p.say("No card yet", errors.New(p.waits()))
		return
	}
	files.Show(p.win, files.Ask{Title: "Field card (.pdf, .png, or .txt for a phone)", Exts: []string{".pdf", ".png", ".txt"}, Save: true,
		Folder: p.folder, Name: p.name() + " card.pdf", Verb: "Write", Done: func(paths []string) { p.card(paths[0], size) }})
}

func (p *Planner) card(path, size string) {
	paper, err := card.ParseSize(size)
	if err == nil {
		var g guard.Guard
		g.Reads(p.path)
		err = g.Writes(path)
	}
	if err != nil {
		p.say("No card", err)
		return
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".txt":
		err = wholefile.Write(path, func(w io.Writer) error { return card.Text(w, p.file) })
	case ".png":
		err = p.cardPictures(path, paper)
	default:
		err = wholefile.Write(path, func(w io.Writer) error {
			return card.PDF(w, p.file, paper, card.Meta{Software: "Stopladder " + headless.Version})
		})
	}
	if err != nil {
		p.say("No card", err)
		return
	}
	p.status.SetText("The card stands in " + path)
}

// cardPictures writes one PNG a page; further pages are numbered.
func (p *Planner) cardPictures(path string, size card.Size) error {
	pages, err := card.Images(p.file, size)
	if err != nil {
		return err
	}
	for i, img := range pages {
		to := path
		if i > 0 {
			to = strings.TrimSuffix(path, filepath.Ext(path)) + fmt.Sprintf(" %d", i+1) + filepath.Ext(path)
			if _, err := os.Stat(to); err == nil {
				return fmt.Errorf("%s is there already; move it or choose another name for the card", filepath.Base(to))
			}
		}
		if err := wholefile.Write(to, func(w io.Writer) error { return card.WritePNG(w, img) }); err != nil {
			return err
		}
	}
	return nil
}
