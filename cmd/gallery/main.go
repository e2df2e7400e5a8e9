// Command gallery is a developer's window: every widget of the program by itself, in each
// of its states, driven by a small sample roll. It has no drawing of its own.
//
//	go run ./cmd/gallery [NAME]
package main

import (
	"fmt"
	"os"
	"strings"

	_ "stopladder/ui/early" // before the toolkit

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/app"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

func main() {
	a := app.NewWithID("org.stopladder.Gallery")
	a.Settings().SetTheme(theme.Neutral{})
	win := a.NewWindow("Stopladder, every widget")
	win.SetPadded(false)
	b, err := newBench(fyne.Do)
	if err != nil {
		fmt.Fprintln(os.Stderr, "gallery:", err)
		os.Exit(1)
	}
	win.SetContent(hall(win, b, strings.Join(os.Args[1:], " ")))
	win.Resize(fyne.NewSize(1280, 800))
	win.Show()
	b.read()
	a.Run()
}

// hall lists the exhibits at the left and shows one of them, the first whose name begins
// with name.
func hall(win fyne.Window, b *bench, name string) fyne.CanvasObject {
	list := exhibits(win, b)
	room := container.NewStack()
	chips := make([]*chip.Chip, len(list))
	show := func(k int) {
		for i, c := range chips {
			c.Set(c.Text, i == k, false)
		}
		room.Objects = []fyne.CanvasObject{list[k].object()}
		room.Refresh()
	}
	names := container.NewVBox()
	first := 0
	for i, e := range list {
		chips[i] = chip.New(e.name, "", func() { show(i) })
		chips[i].Leading = true
		names.Add(chips[i])
		if name != "" && first == 0 && strings.HasPrefix(strings.ToLower(e.name), strings.ToLower(name)) {
			first = i
		}
	}
	show(first)
	return container.NewBorder(nil, nil, container.NewStack(canvas.NewRectangle(theme.Raised), page.Padded(10, 10, 10, 10, container.NewVScroll(names))), nil,
		container.NewStack(canvas.NewRectangle(theme.Surface), page.Padded(12, 12, 12, 12, room)))
}
