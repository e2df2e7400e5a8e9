package analysis

import (
	"cmp"
	"flag"
	"fmt"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"testing"
)

var (
	writeMap = flag.Bool("map", false, "write the imports in DEVELOPERS.md's map anew")
	mapTree  = flag.String("tree", root, "the tree that TestDrawing draws")
)

const mapFile = root + "/DEVELOPERS.md"

// A row of the map in DEVELOPERS.md names a room ("**film**"), a package
// ("`analysis/film/cast`") or all packages below a folder that have no row of
// their own ("`ui/...`").
type row struct {
	name    string // "analysis/film/cast", "ui/..."
	room    bool
	imports []string
	line    int // index into the page's lines
}

// readMap returns the rows of the map, in their order, and the lines of the page.
func readMap(t *testing.T) (rows []row, lines []string) {
	t.Helper()
	b, err := os.ReadFile(mapFile)
	if err != nil {
		t.Fatal(err)
	}
	lines = strings.Split(string(b), "\n")
	at := slices.Index(lines, "| package | one idea | imports |")
	if at < 0 {
		t.Fatal("DEVELOPERS.md has no table \"package | one idea | imports\"")
	}
	for i := at + 2; strings.HasPrefix(lines[i], "|"); i++ {
		cells := strings.Split(lines[i], " | ")
		if len(cells) != 3 {
			t.Fatalf("DEVELOPERS.md:%d: a row of the map has three cells", i+1)
		}
		r := row{name: strings.Trim(cells[0], "| "), line: i}
		r.room = strings.HasPrefix(r.name, "**")
		r.name = strings.Trim(r.name, "*`")
		if s := strings.Trim(cells[2], "| "); s != "-" {
			r.imports = strings.Split(s, ", ")
		}
		rows = append(rows, r)
	}
	return rows, lines
}

// imports returns, for every package of the tree, what its files other than
// tests import: packages of this module as in "analysis/scan", all else that is
// not the standard library's as "libraries".
func imports(t *testing.T, tree string) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	for _, dir := range []string{"analysis", "ui", "cmd", "assets"} {
		for _, s := range sourcesIn(t, tree, dir) {
			if strings.HasSuffix(s.file, "_test.go") {
				continue
			}
			pkg := path.Dir(s.file)
			list := found[pkg]
			for _, imp := range s.imports {
				inside, ours := strings.CutPrefix(imp, "stopladder/")
				first, _, _ := strings.Cut(imp, "/")
				switch {
				case ours:
					list = append(list, inside)
				case strings.Contains(first, "."):
					list = append(list, "libraries")
				}
			}
			slices.Sort(list)
			found[pkg] = slices.Compact(list)
		}
	}
	return found
}

// roomOf returns the room of a package: the first folder below analysis, else
// the first of all.
func roomOf(pkg string) string {
	parts := strings.Split(pkg, "/")
	if parts[0] == "analysis" && len(parts) > 1 {
		return parts[1]
	}
	return parts[0]
}

// asWritten returns what the map writes for the imports of packages: packages of
// the same room by their path below analysis, other rooms by their name, each in
// the order of the map; what the row stands for itself is left out.
func asWritten(rows []row, at int, imports []string) []string {
	room := roomOf(rows[at].name)
	if rows[at].room {
		room = rows[at].name
	}
	seen := map[string]bool{}
	for _, imp := range imports {
		if rowOf(rows, imp) == at || rows[at].room && roomOf(imp) == room {
			continue
		}
		if roomOf(imp) == room {
			imp = strings.TrimPrefix(imp, "analysis/")
		} else {
			imp = roomOf(imp)
		}
		seen[imp] = true
	}
	rank := func(name string) int {
		i := slices.IndexFunc(rows, func(r row) bool {
			return r.name == name || strings.TrimPrefix(r.name, "analysis/") == name
		})
		if i < 0 {
			return len(rows) // libraries
		}
		return i
	}
	return slices.SortedFunc(maps.Keys(seen), func(a, b string) int { return cmp.Or(rank(a)-rank(b), cmp.Compare(a, b)) })
}

// rowOf returns the index of the row that a package belongs to, or -1.
func rowOf(rows []row, pkg string) int {
	for i, r := range rows {
		if !r.room && r.name == pkg {
			return i
		}
	}
	return slices.IndexFunc(rows, func(r row) bool {
		below, ok := strings.CutSuffix(r.name, "/...")
		return ok && (pkg == below || strings.HasPrefix(pkg, below+"/"))
	})
}

// faults returns what is wrong between a map and the packages with their imports.
func faults(rows []row, packages map[string][]string) (list []string) {
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	held := make([][]string, len(rows)) // what the packages of a row import
	used := make([]bool, len(rows))
	for pkg, imps := range packages {
		at := rowOf(rows, pkg)
		if at < 0 {
			say("the package %s is not on the map; give it a row at its place in DEVELOPERS.md, then run make map", pkg)
			continue
		}
		used[at] = true
		for i, r := range rows {
			if r.room && r.name == roomOf(pkg) {
				used[i] = true
				held[i] = append(held[i], imps...)
			}
		}
		held[at] = append(held[at], imps...)
		for _, imp := range imps {
			if to := rowOf(rows, imp); imp != "libraries" && (to > at || to == at && !strings.HasSuffix(rows[at].name, "/...")) {
				say("%s imports %s, which stands below it on the map", pkg, imp)
			}
		}
	}
	for i, r := range rows {
		switch want := asWritten(rows, i, held[i]); {
		case !used[i]:
			say("DEVELOPERS.md:%d: there is no package for the row %s", r.line+1, r.name)
		case !slices.Equal(want, r.imports):
			say("DEVELOPERS.md:%d: %s imports %s, the map has %s; run make map", r.line+1, r.name, strings.Join(want, ", "), strings.Join(r.imports, ", "))
		}
	}
	for pkg := range packages {
		if roomOf(pkg) == "film" {
			for reached := range reach(packages, pkg) {
				if roomOf(reached) == "show" {
					say("%s reaches %s: what is measured must not know how it is shown", pkg, reached)
				}
			}
		}
	}
	slices.Sort(list)
	return list
}

// reach returns all packages that one imports, directly or through others.
func reach(packages map[string][]string, from string) map[string]bool {
	seen := map[string]bool{}
	for todo := []string{from}; len(todo) > 0; {
		next := todo[0]
		todo = todo[1:]
		for _, imp := range packages[next] {
			if !seen[imp] {
				seen[imp] = true
				todo = append(todo, imp)
			}
		}
	}
	return seen
}

// The map says what each package is for and imports, in an order that imports
// follow upwards; what is measured does not reach what shows it.
func TestGuardMap(t *testing.T) {
	packages := imports(t, root)
	if *writeMap {
		updateMap(t, packages)
	}
	rows, _ := readMap(t)
	if len(rows) < 20 || len(packages["analysis/film/salvage"]) == 0 {
		t.Fatal("the map or the imports were not read, so nothing was checked")
	}
	for _, f := range faults(rows, packages) {
		t.Error(f)
	}
}

// updateMap writes the column of imports anew.
func updateMap(t *testing.T, packages map[string][]string) {
	rows, lines := readMap(t)
	for i, r := range rows {
		var held []string
		for pkg, imps := range packages {
			if r.room && roomOf(pkg) == r.name || !r.room && rowOf(rows, pkg) == i {
				held = append(held, imps...)
			}
		}
		cells := strings.Split(lines[r.line], " | ")
		cells[2] = cmp.Or(strings.Join(asWritten(rows, i, held), ", "), "-") + " |"
		lines[r.line] = strings.Join(cells, " | ")
	}
	if err := os.WriteFile(mapFile, []byte(strings.Join(lines, "\n")), 0o666); err != nil {
		t.Fatal(err)
	}
}

// The checks of the map must be able to fail.
func TestGuardMapBites(t *testing.T) {
	rows := []row{
		{name: "judge", room: true}, {name: "analysis/judge/stops"},
		{name: "film", room: true, imports: []string{"judge"}}, {name: "analysis/film/cast", imports: []string{"judge"}},
		{name: "show", room: true, imports: []string{"film", "libraries"}}, {name: "analysis/show/row", imports: []string{"film", "libraries"}},
		{name: "ui/...", imports: []string{"show"}},
	}
	right := func() map[string][]string {
		return map[string][]string{
			"analysis/judge/stops": nil, "analysis/film/cast": {"analysis/judge/stops"},
			"analysis/show/row": {"analysis/film/cast", "libraries"}, "ui": {"analysis/show/row"},
		}
	}
	for _, c := range []struct {
		name, want string
		change     func(p map[string][]string)
	}{
		{"nothing", "", func(map[string][]string) {}},
		{"an import that the map lacks", "ui/... imports judge, show, the map has show", func(p map[string][]string) {
			p["ui"] = append(p["ui"], "analysis/judge/stops")
		}},
		{"an import that only the map has", "analysis/show/row imports film, the map has film, libraries", func(p map[string][]string) {
			p["analysis/show/row"] = p["analysis/show/row"][:1]
		}},
		{"a package that the map lacks", "analysis/film/new is not on the map", func(p map[string][]string) { p["analysis/film/new"] = nil }},
		{"a row without a package", "there is no package for the row analysis/judge/stops", func(p map[string][]string) {
			delete(p, "analysis/judge/stops")
		}},
		{"an import downwards", "analysis/film/cast imports analysis/show/row, which stands below it", func(p map[string][]string) {
			p["analysis/film/cast"] = []string{"analysis/show/row"}
		}},
		{"film that reaches show by another room", "analysis/film/cast reaches analysis/show/row", func(p map[string][]string) {
			p["analysis/judge/stops"] = []string{"analysis/show/row"}
		}},
	} {
		p := right()
		c.change(p)
		got := strings.Join(faults(rows, p), "\n")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
}

// TestDrawing draws the rooms and what they import of each other, the longest way
// last (make draw; of another tree: make draw TREE=DIR).
func TestDrawing(t *testing.T) {
	d := draw(imports(t, *mapTree))
	t.Logf("%d packages of analysis; with assets, ui/session and ui %d rooms on %d floors, %d arrows between them\n\n%s",
		d.packages, len(d.rooms), len(d.longest), d.arrows, d)
	if d.arrows == 0 {
		t.Error("no import between rooms was seen")
	}
}

// drawnAs returns the room that a package is drawn in, "" for one that is not
// drawn: the commands. The state of the window, with what it takes of ui (state), is
// apart from the window.
func drawnAs(pkg string, state map[string]bool) string {
	switch room := roomOf(pkg); {
	case pkg == "ui/session" || room == "ui" && state[pkg]:
		return "ui/session"
	case room == "cmd" || room == "analysis" || room == "libraries":
		return ""
	default:
		return room
	}
}

type drawing struct {
	packages, arrows int
	rooms            []string // lowest floor first
	to               map[string][]string
	floor            map[string]int
	longest          []string
}

// draw works a drawing out. The floor of a room is the number of rooms on the
// longest chain of imports below it.
func draw(packages map[string][]string) drawing {
	d := drawing{to: map[string][]string{}, floor: map[string]int{}}
	state := reach(packages, "ui/session")
	for pkg, imps := range packages {
		if strings.HasPrefix(pkg, "analysis/") {
			d.packages++
		}
		from := drawnAs(pkg, state)
		if from == "" {
			continue
		}
		to := d.to[from]
		for _, imp := range imps {
			if r := drawnAs(imp, state); r != "" && r != from {
				to = append(to, r)
			}
		}
		slices.Sort(to)
		d.to[from] = slices.Compact(to)
	}
	below := map[string]string{}
	var floor func(room string) int
	floor = func(room string) int {
		if f, ok := d.floor[room]; ok {
			return f
		}
		d.floor[room] = 0 // where nothing is below; also ends a round trip
		for _, r := range d.to[room] {
			if f := floor(r) + 1; f > d.floor[room] {
				d.floor[room], below[room] = f, r
			}
		}
		return d.floor[room]
	}
	for room, to := range d.to {
		d.rooms = append(d.rooms, room)
		d.arrows += len(to)
		floor(room)
	}
	slices.SortFunc(d.rooms, func(a, b string) int { return cmp.Or(d.floor[a]-d.floor[b], cmp.Compare(a, b)) })
	// A round trip is gone once.
	for room := d.rooms[len(d.rooms)-1]; room != "" && !slices.Contains(d.longest, room); room = below[room] {
		d.longest = append(d.longest, room)
	}
	return d
}

func (d drawing) String() string {
	var b strings.Builder
	for _, room := range slices.Backward(d.rooms) {
		fmt.Fprintf(&b, "%2d  %-10s -> %s\n", d.floor[room], room, strings.Join(d.to[room], " "))
	}
	fmt.Fprintf(&b, "\nlongest way: %s\n", strings.Join(d.longest, " -> "))
	return b.String()
}

// The drawing is worked out by hand here.
func TestGuardDrawing(t *testing.T) {
	d := draw(map[string][]string{
		"analysis/a/x": nil, "analysis/a/y": {"analysis/a/x"}, "analysis/b": {"analysis/a/x", "analysis/a/y"},
		"analysis/c/z": {"analysis/b", "analysis/a/x", "libraries"}, "analysis/d": nil, "ui/bar": {"analysis/c/z", "ui"}, "cmd/x": {"ui"},
	})
	if d := draw(map[string][]string{"analysis/a/x": {"analysis/b/y"}, "analysis/b/z": {"analysis/a/w"}, "ui/session": {"ui/past"}, "ui/past": nil, "ui": {"ui/session"}}); len(d.rooms) != 4 || d.arrows != 3 {
		t.Errorf("rooms that import each other: %+v", d)
	}
	if d.packages != 5 || len(d.rooms) != 5 || d.arrows != 4 || strings.Join(d.longest, " ") != "ui c b a" {
		t.Errorf("%+v", d)
	}
}
