// Package shellpages makes what a shell's user expects of a program out of its command
// definitions: the manual page of man(7), and completions for bash, zsh and fish. A command
// that is added has them without another line.
package shellpages

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"
)

// About is what the pages say besides the commands.
type About struct {
	Version string
	Date    string // of the page, YYYY-MM-DD
	More    string // a paragraph on what is told elsewhere
}

// Man returns the manual page of a program with commands, section 1, in the macros of
// man(7).
func Man(app *kong.Application, a About) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	name := app.Name
	line(`.TH %s 1 "%s" "%s %s"`, strings.ToUpper(name), a.Date, name, a.Version)
	line(".SH NAME")
	first, rest, _ := strings.Cut(app.Help, ". ")
	line(`%s \- %s`, roff(name), roff(lower(first)))
	line(".SH SYNOPSIS")
	line(".B %s", roff(name))
	line("[\\fIPATH\\fR ...]")
	line(".br")
	line(".B %s", roff(name))
	line(`\fIcommand\fR [\fIargument\fR ...] [\fIflag\fR ...]`)
	line(".SH DESCRIPTION")
	line("%s", roff(rest))
	line(".PP")
	line("Without a command the program with a window opens it on the paths that are given; the one without a window, \\fB%s\\-measure\\fR, has the same commands.", roff(name))
	line(".SH COMMANDS")
	for _, c := range app.Children {
		if c.Hidden {
			continue
		}
		line(".SS %s", roff(synopsis(c)))
		line("%s", roff(c.Help))
		for _, p := range c.Positional {
			line(".TP")
			line(`\fI%s\fR`, roff(argument(p)))
			line("%s", roff(sentence(p.Help)))
		}
		for _, f := range flags(c) {
			line(".TP")
			line("%s", flagHead(f))
			line("%s", roff(sentence(f.Help)))
		}
	}
	line(".SH EXIT STATUS")
	for _, s := range [][2]string{{"0", "Done."}, {"1", "It could not be done, or not for every scan; what could be is written."}, {"2", "The call makes no sense as it stands; one sentence says why."}} {
		line(".TP")
		line(".B %s", s[0])
		line("%s", s[1])
	}
	line(".SH SEE ALSO")
	line("%s", roff(a.More))
	return b.String()
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s != "" && !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// roff escapes text: a backslash, a dot or quote at its beginning, and minus signs, which
// else become hyphens that cannot be copied to a command line.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "−", `\(mi`, "–", `\(en`, "…", "...").Replace(strings.TrimSpace(s))
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}

func argument(p *kong.Positional) string {
	n := p.Name
	if p.IsCumulative() {
		n += " ..."
	}
	return n
}

// synopsis is a command with its arguments.
func synopsis(c *kong.Node) string {
	s := c.Name
	for _, p := range c.Positional {
		if p.Required {
			s += " " + argument(p)
		} else {
			s += " [" + argument(p) + "]"
		}
	}
	return s
}

// flags are those of a command that are shown, without the one for help, which all have.
func flags(c *kong.Node) (out []*kong.Flag) {
	for _, group := range c.AllFlags(true) {
		for _, f := range group {
			if f.Name != "help" && f.Value != nil {
				out = append(out, f)
			}
		}
	}
	return out
}

func placeholder(f *kong.Flag) string {
	if f.IsBool() {
		return ""
	}
	if f.PlaceHolder != "" {
		return f.PlaceHolder
	}
	return strings.ToUpper(f.Name)
}

func flagHead(f *kong.Flag) string {
	s := ""
	if f.Short != 0 {
		s = `\fB\-` + string(f.Short) + `\fR, `
	}
	s += `\fB\-\-` + roff(f.Name) + `\fR`
	if p := placeholder(f); p != "" {
		s += `=\fI` + roff(p) + `\fR`
	}
	return s
}
