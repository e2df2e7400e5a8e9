package assets_test

import (
	"encoding/json"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stopladder/assets"
)

// root of the repository, from this package.
const root = ".."

var (
	link    = regexp.MustCompile(`\]\(([^)\s]+)\)`)
	cited   = regexp.MustCompile(`assets/manual/[A-Za-z]+\.md(?:#[a-z0-9-]+)?`)
	heading = regexp.MustCompile(`(?m)^#+ (.+)$`)
	fenced  = regexp.MustCompile("(?ms)^```.*?^```$")
)

// anchors are what the headings of a page can be linked by.
func anchors(page string) (out []string) {
	for _, m := range heading.FindAllStringSubmatch(fenced.ReplaceAllString(page, ""), -1) {
		out = append(out, strings.Map(func(r rune) rune {
			switch {
			case r == ' ' || r == '-':
				return '-'
			case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '_':
				return r
			}
			return -1
		}, strings.ToLower(m[1])))
	}
	return out
}

// resolves says what is wrong with a link from a file of the repository, "" for nothing.
func resolves(from, to string) string {
	if strings.Contains(to, "://") {
		return ""
	}
	file, anchor, _ := strings.Cut(to, "#")
	path := filepath.Join(root, from)
	if file != "" {
		path = filepath.Join(root, filepath.Dir(from), file)
	}
	st, err := os.Stat(path)
	if err != nil {
		return "no such file"
	}
	if anchor == "" || st.IsDir() {
		return ""
	}
	page, err := os.ReadFile(path)
	if err != nil {
		return err.Error()
	}
	if !slices.Contains(anchors(string(page)), anchor) {
		return "no such heading"
	}
	return ""
}

// Every page is on the list of pages, and on the list is nothing else.
func TestManualListsItsPages(t *testing.T) {
	var listed []string
	for _, m := range link.FindAllStringSubmatch(string(assets.ManualPage("README")), -1) {
		listed = append(listed, strings.TrimSuffix(m[1], ".md"))
	}
	pages := slices.DeleteFunc(assets.ManualPages(), func(n string) bool { return n == "README" })
	if len(pages) < 10 {
		t.Fatalf("only %d pages are embedded", len(pages))
	}
	for _, p := range pages {
		if n := len(slices.DeleteFunc(slices.Clone(listed), func(l string) bool { return l != p })); n != 1 {
			t.Errorf("%s stands %d times on the list of pages", p, n)
		}
		if text := string(assets.ManualPage(p)); !strings.HasPrefix(text, "# ") {
			t.Errorf("%s does not begin with its title", p)
		}
	}
	if len(listed) != len(pages) {
		t.Errorf("%d pages are listed, %d are there", len(listed), len(pages))
	}
	for _, odd := range []string{"", "../about", "nothing"} {
		if assets.ManualPage(odd) != nil {
			t.Errorf("there is a page %q", odd)
		}
	}
}

func TestLinksResolve(t *testing.T) {
	files := []string{"README.md", "DEVELOPERS.md"}
	for _, p := range assets.ManualPages() {
		files = append(files, "assets/manual/"+p+".md")
	}
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(filepath.Join(root, f))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(fenced.ReplaceAllString(string(text), ""), -1) {
			n++
			if why := resolves(f, m[1]); why != "" {
				t.Errorf("%s links to %s: %s", f, m[1], why)
			}
		}
	}
	if n < 50 {
		t.Errorf("only %d links were looked at", n)
	}
	if resolves("README.md", "assets/manual/noise.md#nothing") == "" || resolves("README.md", "nothing.md") == "" {
		t.Error("a link to nothing resolves")
	}
}

// The README says what the program is and how to begin; the rest is in the manual.
func TestReadmeIsShort(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(strings.Fields(string(text))); n > 1500 {
		t.Errorf("the README has %d words, and 1500 are the most", n)
	}
}

// Comments that cite the manual cite what is there.
func TestCitationsResolve(t *testing.T) {
	n := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == ".git" || d.Name() == "bin"):
			return filepath.SkipDir
		case d.IsDir() || filepath.Ext(path) != ".go" || d.Name() == "manual_test.go":
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, c := range cited.FindAllString(string(text), -1) {
			n++
			if why := resolves("README.md", c); why != "" {
				t.Errorf("%s cites %s: %s", path, c, why)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n == 0 {
		t.Error("no citation was looked at")
	}
}

// The keys of the JSON are documented, and what is documented is a key.
func TestJSONKeysAreDocumented(t *testing.T) {
	var schema map[string]any
	if err := json.Unmarshal(assets.Schema("measure-1"), &schema); err != nil {
		t.Fatal(err)
	}
	keys := map[string]bool{}
	schemaKeys(schema, schema, "", keys)
	if len(keys) < 100 {
		t.Fatalf("only %d keys were found in the schema", len(keys))
	}
	documented := map[string]bool{}
	quoted := regexp.MustCompile("`([^`]+)`")
	for line := range strings.Lines(string(assets.ManualPage("json"))) {
		cells := strings.Split(line, "|")
		if len(cells) < 4 || !strings.Contains(cells[1], "`") {
			continue
		}
		for _, m := range quoted.FindAllStringSubmatch(cells[1], -1) {
			for _, k := range braces(m[1]) {
				if documented[k] {
					t.Errorf("%s is documented twice", k)
				}
				documented[k] = true
			}
		}
	}
	for _, k := range slices.Sorted(maps.Keys(keys)) {
		if !documented[k] {
			t.Errorf("the key %s is not in assets/manual/json.md", k)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(documented)) {
		if !keys[k] {
			t.Errorf("assets/manual/json.md has %s, which is no key of the schema", k)
		}
	}
}

// schemaKeys gathers the keys that hold no further keys, as the manual writes them.
func schemaKeys(schema, node map[string]any, path string, keys map[string]bool) (further bool) {
	join := func(name string) string {
		parent := path[strings.LastIndex(path, ".")+1:]
		if parent == "bands" || parent == "salvage" { // each of its members is alike
			name = "*"
		}
		return strings.TrimPrefix(path+"."+name, ".")
	}
	below := func(n any, p string) bool {
		m, ok := n.(map[string]any)
		if !ok {
			return false
		}
		if !schemaKeys(schema, m, p, keys) && p != path {
			keys[p] = true
		}
		return true
	}
	if ref, ok := node["$ref"].(string); ok {
		def := schema["$defs"].(map[string]any)[ref[strings.LastIndex(ref, "/")+1:]].(map[string]any)
		further = schemaKeys(schema, def, path, keys)
	}
	if m, ok := node["properties"].(map[string]any); ok {
		for name, n := range m {
			further = below(n, join(name)) || further
		}
	}
	if m, ok := node["additionalProperties"].(map[string]any); ok {
		further = below(m, join("*")) || further
	}
	if m, ok := node["items"].(map[string]any); ok {
		further = schemaKeys(schema, m, path, keys) || further
	}
	for _, k := range []string{"anyOf", "oneOf", "allOf"} {
		list, _ := node[k].([]any)
		for _, n := range list {
			further = schemaKeys(schema, n.(map[string]any), path, keys) || further
		}
	}
	return further
}

// braces spells "a.{b,c}" out.
func braces(key string) []string {
	before, rest, ok := strings.Cut(key, "{")
	if !ok {
		return []string{key}
	}
	inside, after, _ := strings.Cut(rest, "}")
	var out []string
	for _, s := range strings.Split(inside, ",") {
		out = append(out, before+s+after)
	}
	return out
}

// Pictures of the manual are small, each is shown by a page, and each that a page shows is
// carried in the program.
func TestPicturesOfTheManual(t *testing.T) {
	shown, sum := map[string]bool{}, int64(0)
	picture := regexp.MustCompile(`!\[[^\]]+\]\((pictures/[^)]+)\)`)
	for _, p := range assets.ManualPages() {
		for _, m := range picture.FindAllStringSubmatch(string(assets.ManualPage(p)), -1) {
			shown[m[1]] = true
			if len(assets.ManualPicture(m[1])) == 0 {
				t.Errorf("%s shows %s, which is not carried", p, m[1])
			}
		}
	}
	files, err := filepath.Glob("manual/pictures/*")
	if err != nil || len(files) == 0 {
		t.Fatal("no pictures", err)
	}
	for _, f := range files {
		st, err := os.Stat(f)
		if err != nil {
			t.Fatal(err)
		}
		sum += st.Size()
		if st.Size() > 80_000 {
			t.Errorf("%s has %d bytes, the most is 80 000", f, st.Size())
		}
		if !shown["pictures/"+filepath.Base(f)] {
			t.Errorf("%s stands on no page", f)
		}
	}
	if sum > 700_000 {
		t.Errorf("the pictures have %d bytes together, the most is 700 000", sum)
	}
}
