package headless

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stopladder/assets"
)

var shell = regexp.MustCompile("(?ms)^```sh\n(.*?)^```$")

// shown are the commands that README and manual show, with the file they stand in.
func shown(t *testing.T) (out [][2]string) {
	t.Helper()
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	pages := map[string]string{"README.md": string(readme)}
	names := []string{"README.md"}
	for _, p := range assets.ManualPages() {
		pages[p], names = string(assets.ManualPage(p)), append(names, p)
	}
	for _, n := range names {
		for _, m := range shell.FindAllStringSubmatch(pages[n], -1) {
			for line := range strings.Lines(m[1]) {
				out = append(out, [2]string{n, strings.TrimSpace(line)})
			}
		}
	}
	return out
}

// words splits a command line as a shell does, as far as the manual needs it.
func words(line string) (out []string) {
	line, _, _ = strings.Cut(line, " #")
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

// Every command that the manual shows is one, and those that need no scans do
// what they say, one after another in a folder for each page.
func TestShownCommands(t *testing.T) {
	makefile, err := os.ReadFile(filepath.Join("..", "..", "Makefile"))
	if err != nil {
		t.Fatal(err)
	}
	lines := shown(t)
	t.Setenv("STOPLADDER_HOME", t.TempDir())
	parsed, ran, page := 0, 0, ""
	for _, l := range lines {
		if page != l[0] {
			page = l[0]
			t.Chdir(t.TempDir())
		}
		w := words(l[1])
		if len(w) == 0 {
			continue
		}
		switch w[0] {
		case "make":
			if len(w) < 2 || !regexp.MustCompile(`(?m)^`+regexp.QuoteMeta(w[1])+`:`).Match(makefile) {
				t.Errorf("%s shows %q, which the Makefile does not know", l[0], l[1])
			}
			continue
		case "stopladder":
		default:
			t.Errorf("%s shows %q, which is no command of this program", l[0], l[1])
			continue
		}
		args := w[1:]
		parser, err := newParser(context.Background(), streams{strings.NewReader(""), io.Discard, io.Discard}, func(int) {})
		if err != nil {
			t.Fatal(err)
		}
		if slices.Contains(args, "--help") || slices.Contains(args, "help") {
			args = append(args, "--help") // parsing would go on after help
		} else if _, err := parser.Parse(scansNotFlags(args)); err != nil {
			t.Errorf("%s shows %q: %v", l[0], l[1], err)
			continue
		}
		parsed++
		if slices.Contains([]string{"measure", "sheet", "demo", "stills", "report", "pocket", "blind", "judge", "pack", "unpack", "opinions", "shelf", "compare"}, args[0]) && !slices.Contains(args, "--help") || slices.Contains(args, "--match") {
			continue // these need scans, or write many
		}
		ran++
		var said strings.Builder
		if status := Main(args, strings.NewReader(""), io.Discard, &said); status != Done {
			t.Errorf("%s shows %q, which ends with status %d: %s", l[0], l[1], status, said.String())
		}
	}
	if parsed < 15 || ran < 6 {
		t.Errorf("only %d commands were parsed and %d were run", parsed, ran)
	}
}

// The keys of a first look are documented.
func TestFirstLookIsDocumented(t *testing.T) {
	page := string(assets.ManualPage("commands"))
	_, section, _ := strings.Cut(page, "\n## First look\n")
	section, _, _ = strings.Cut(section, "\n## ")
	for _, v := range []any{firstLook{}, histogramText{}} {
		for i := range reflect.TypeOf(v).NumField() {
			key, _, _ := strings.Cut(reflect.TypeOf(v).Field(i).Tag.Get("json"), ",")
			if !strings.Contains(section, "`"+key+"`") {
				t.Errorf("assets/manual/commands.md does not have %q", key)
			}
		}
	}
}
