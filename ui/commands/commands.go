// Package commands is the one table of everything that the window can be told
// to do. The menu, the keyboard, the chips and the page of keys are all made
// from it, so that they cannot disagree.
package commands

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
)

// Command is one thing that the window can do.
type Command struct {
	ID      string
	Title   string
	Hint    string // one sentence for the page of keys; "" leaves the command out of it
	Menu    string // menu in which it stands; "" is none
	Keys    []Key  // the first is the one shown
	Run     func()
	Enabled func() bool // nil: always
	Checked func() bool // nil: not a switch
	Gap     bool        // a separator stands before it in its menu
}

// Key is a key with or without Ctrl (Cmd on macOS) and Shift.
type Key struct {
	Name  fyne.KeyName
	Ctrl  bool
	Shift bool
	Text  string // how it is written; "" is the name
}

// String returns how the key is written in menus and in the page of keys.
func (k Key) String() string {
	var b strings.Builder
	if k.Ctrl {
		b.WriteString("Ctrl+")
	}
	if k.Shift {
		b.WriteString("Shift+")
	}
	if k.Text != "" {
		b.WriteString(k.Text)
	} else {
		b.WriteString(string(k.Name))
	}
	return b.String()
}

// Table is an ordered list of commands.
type Table []*Command

// Find returns the command with this id. An id that is not there is a mistake
// of the program and panics.
func (t Table) Find(id string) *Command {
	for _, c := range t {
		if c.ID == id {
			return c
		}
	}
	panic("no command " + id)
}

// Do runs the command if it is enabled and says whether it did.
func (c *Command) Do() bool {
	if c.Enabled != nil && !c.Enabled() {
		return false
	}
	c.Run()
	return true
}

// Typed runs the command of a plain key and says whether there was one. Keys
// with Ctrl arrive as shortcuts, not here.
func (t Table) Typed(name fyne.KeyName, shift bool) bool {
	for _, c := range t {
		for _, k := range c.Keys {
			if !k.Ctrl && k.Name == name && k.Shift == shift {
				return c.Do()
			}
		}
	}
	return false
}

// Bind adds the commands with Ctrl keys to a canvas as shortcuts.
func (t Table) Bind(add func(fyne.Shortcut, func(fyne.Shortcut))) {
	for _, c := range t {
		for _, k := range c.Keys {
			if k.Ctrl {
				do := func(fyne.Shortcut) { c.Do() }
				add(k.shortcut(), do)
				// The toolkit turns these two into shortcuts of its own before anybody is
				// asked, and so a menu item with the plain key never hears of them.
				switch {
				case k.Name == fyne.KeyZ && !k.Shift:
					add(&fyne.ShortcutUndo{}, do)
				case k.Name == fyne.KeyY && !k.Shift:
					add(&fyne.ShortcutRedo{}, do)
				}
			}
		}
	}
}

func (k Key) shortcut() fyne.Shortcut {
	mod := fyne.KeyModifierShortcutDefault
	if k.Shift {
		mod |= fyne.KeyModifierShift
	}
	return &desktop.CustomShortcut{KeyName: k.Name, Modifier: mod}
}

// Menu builds the main menu, one submenu for each name in order.
func (t Table) Menu(names ...string) *fyne.MainMenu {
	var menus []*fyne.Menu
	for _, name := range names {
		var items []*fyne.MenuItem
		for _, c := range t {
			if c.Menu != name {
				continue
			}
			if c.Gap && len(items) > 0 {
				items = append(items, fyne.NewMenuItemSeparator())
			}
			items = append(items, c.item())
		}
		menus = append(menus, fyne.NewMenu(name, items...))
	}
	return fyne.NewMainMenu(menus...)
}

// item writes a plain key into the title, since the toolkit shows and fires
// only keys with a modifier by itself.
func (c *Command) item() *fyne.MenuItem {
	title := c.Title
	it := fyne.NewMenuItem(title, func() { c.Do() })
	if len(c.Keys) > 0 {
		if k := c.Keys[0]; k.Ctrl {
			it.Shortcut = k.shortcut()
		} else {
			it.Label = title + "    (" + k.String() + ")"
		}
	}
	if c.Enabled != nil {
		it.Disabled = !c.Enabled()
	}
	if c.Checked != nil {
		it.Checked = c.Checked()
	}
	return it
}
