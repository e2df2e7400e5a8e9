// Package commands is the one table of everything that the window can be told
// to do. The menu, the keyboard, the chips, the palette and the page of keys are
// all made from it, so that they cannot disagree.
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
	Long    string // the title where nothing around it says what it is of; "" is Title
	Hint    string // one sentence on what it does; "" where the title says it
	Menu    string // menu in which it stands; "" is none
	Sub     string // menu inside that one in which it stands; "" is none
	Group   string // under which it stands on the page of keys and in the palette; "" is Menu
	Keys    []Key  // the first is the one shown
	Run     func()
	Enabled func() bool   // nil: always
	Why     func() string // why it cannot be done now, "" when it can; nil: Enabled says all
	Unseen  func() string // why nothing is seen of it here though it is done, "" when it is seen; nil: it is
	Checked func() bool   // nil: not a switch
	Gap     bool          // a separator stands before it in its menu
	say     func(string)
}

// Name returns what the command is called where nothing around it says what it is of.
func (c *Command) Name() string {
	if c.Long != "" {
		return c.Long
	}
	return c.Title
}

// In returns the group in which the command is listed.
func (c *Command) In() string {
	if c.Group != "" {
		return c.Group
	}
	return c.Menu
}

// Blocked returns why the command cannot be done now, "" when it can.
func (c *Command) Blocked() string {
	if c.Why != nil {
		if why := c.Why(); why != "" {
			return why
		}
	}
	if c.Enabled != nil && !c.Enabled() {
		return "not now"
	}
	return ""
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

// Tell sets what is told why a command is not done, or why nothing is seen of it, and ""
// when one is done: whichever way it came, by key, menu, chip or palette.
func (t Table) Tell(say func(string)) {
	for _, c := range t {
		c.say = say
	}
}

// Do runs the command if it can be done and says whether it did. What is in the way is
// told, see Tell.
func (c *Command) Do() bool {
	say := c.say
	if say == nil {
		say = func(string) {}
	}
	if why := c.Blocked(); why != "" {
		say(c.Name() + ": " + why)
		return false
	}
	say("")
	c.Run()
	if c.Unseen != nil {
		if why := c.Unseen(); why != "" {
			say(c.Name() + ": " + why)
		}
	}
	return true
}

// Typed runs the command of a plain key and says whether there is one. Keys with Ctrl
// arrive as shortcuts, not here.
func (t Table) Typed(name fyne.KeyName, shift bool) bool {
	for _, c := range t {
		for _, k := range c.Keys {
			if !k.Ctrl && k.Name == name && k.Shift == shift {
				c.Do()
				return true
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

// NoRoll is the reason of all commands that need a roll: where it is the reason of a whole
// menu it is written once.
const NoRoll = "no roll is open"

// Menu builds the main menu, one submenu for each name in order.
func (t Table) Menu(names ...string) *fyne.MainMenu {
	var menus []*fyne.Menu
	for _, name := range names {
		var items []*fyne.MenuItem
		subs := map[string]*fyne.Menu{}
		said := false
		for _, c := range t {
			if c.Menu != name {
				continue
			}
			into := &items
			if c.Sub != "" {
				if subs[c.Sub] == nil {
					subs[c.Sub] = fyne.NewMenu("")
					parent := fyne.NewMenuItem(c.Sub, nil)
					parent.ChildMenu = subs[c.Sub]
					if c.Gap && len(items) > 0 {
						items = append(items, fyne.NewMenuItemSeparator())
					}
					items = append(items, parent)
				}
				into = &subs[c.Sub].Items
			} else if c.Gap && len(items) > 0 {
				items = append(items, fyne.NewMenuItemSeparator())
			}
			why := c.Blocked()
			if why == NoRoll {
				if said {
					why = ""
				}
				said = true
			}
			*into = append(*into, c.item(why))
		}
		menus = append(menus, fyne.NewMenu(name, items...))
	}
	return fyne.NewMainMenu(menus...)
}

// item writes a plain key into the title, since the toolkit shows and fires
// only keys with a modifier by itself, and why the command cannot be done.
func (c *Command) item(why string) *fyne.MenuItem {
	it := fyne.NewMenuItem(c.Name(), func() { c.Do() })
	if len(c.Keys) > 0 {
		if k := c.Keys[0]; k.Ctrl {
			it.Shortcut = k.shortcut()
		} else {
			it.Label += "    (" + k.String() + ")"
		}
	}
	if it.Disabled = c.Blocked() != ""; it.Disabled && why != "" {
		it.Label += "  –  " + why
	}
	if c.Checked != nil {
		it.Checked = c.Checked()
	}
	return it
}

// Listed is a group of commands that have keys, as the page of keys shows them.
type Listed struct {
	Name     string
	Commands []*Command
}

// ByGroup returns the commands in groups, in the order in which each first comes.
func (t Table) ByGroup() (out []Listed) {
	at := map[string]int{}
	for _, c := range t {
		i, ok := at[c.In()]
		if !ok {
			i = len(out)
			at[c.In()] = i
			out = append(out, Listed{Name: c.In()})
		}
		out[i].Commands = append(out[i].Commands, c)
	}
	return out
}
