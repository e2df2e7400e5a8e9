package headless

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/row"
)

// reported writes the report of a small roll with marks and texts of a stranger, and returns
// it with the JSON of the same roll.
func reported(t *testing.T) (page string, doc *report.Report) {
	t.Helper()
	dir := t.TempDir()
	from := filepath.Join(testdata, "rolls", "tripod")
	files, err := filepath.Glob(filepath.Join(from, "*.png"))
	if err != nil || len(files) == 0 {
		t.Fatal(err, "no scans")
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(f)), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	job, err := load.Plan([]string{dir}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := job.Roll
	r.Title = `</script><script>window.hacked=1</script><img src="http://example.invalid/x" onerror="window.hacked=1">`
	r.Stock = "negative\u200fevil\u200b"
	r.Frames[0].Verdict, r.Frames[0].Note = roll.Breaks, `<b onclick="window.hacked=1">mud</b> ' " & {{.Title}}`
	r.SetRange(-1, 2.25)
	r.Judge().Judge, r.Judge().Finding = "A. <i>Judge</i>", "More light.\nAlways."
	path := filepath.Join(dir, "x"+roll.Ext)
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	page = filepath.Join(dir, "report.html")
	var out, complaints bytes.Buffer
	if code := run(t.Context(), []string{"report", path, "-o", page}, streams{strings.NewReader(""), &out, &complaints}); code != Done {
		t.Fatalf("status %d: %s", code, complaints.String())
	}
	if code := run(t.Context(), []string{"measure", path, "--json", "-"}, streams{strings.NewReader(""), &out, &complaints}); code != Done {
		t.Fatalf("status %d: %s", code, complaints.String())
	}
	doc = &report.Report{}
	if err := json.Unmarshal(out.Bytes(), doc); err != nil {
		t.Fatal(err)
	}
	return page, doc
}

// The report in Debian's Chromium: nothing is fetched, no script fails, it fits a phone and
// a large screen, keys do what the mouse does, and its figures are the JSON's.
func TestReportInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	b := newBrowser(t)
	page, doc := reported(t)
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	if len(text) > 25<<20 {
		t.Errorf("the report has %d bytes", len(text))
	}
	for _, odd := range []string{"\u200f", "\u200b", `onerror="window`, "<script>window"} {
		if bytes.Contains(text, []byte(odd)) {
			t.Errorf("%q stands in the page as it was given", odd)
		}
	}
	b.size(1280, 800)
	b.open(page)
	for _, w := range []int{360, 1280, 1920} {
		b.size(w, 900)
		for _, layout := range []string{"2", "1", "5"} {
			b.key(layout)
			checkLayout(t, b, w)
		}
		if to := os.Getenv("STOPLADDER_LOOK"); to != "" {
			b.shot(filepath.Join(to, fmt.Sprintf("report-%d.png", w)))
		}
	}
	b.size(1280, 800)
	checkFigures(t, b, doc)
	checkUse(t, b, len(doc.Frames))
	checkPrint(t, b, doc)
	if e := b.errors(); len(e) > 0 {
		t.Errorf("the browser complains: %s", strings.Join(e, "\n"))
	}
	if r := b.requests(); len(r) != 1 || !strings.HasPrefix(r[0], "file://") {
		t.Errorf("asked for: %v", r)
	}
	var hacked bool
	if b.eval("!!window.hacked", &hacked); hacked {
		t.Error("a text of a stranger was run")
	}
	// What was not asked for is forbidden as well.
	var told []string
	b.eval(`new Promise(d => { const seen = []; addEventListener("securitypolicyviolation", e => seen.push(e.effectiveDirective));
		fetch("http://127.0.0.1:9/").catch(() => 0); new Image().src = "http://127.0.0.1:9/x.png"; const s = document.createElement("script"); s.textContent = "window.hacked = 1"; document.body.append(s);
		document.body.setAttribute("onclick", "window.hacked = 1"); setTimeout(() => d(seen.concat(window.hacked ? ["ran"] : [])), 300) })`, &told)
	for _, want := range []string{"connect-src", "img-src", "script-src-elem"} {
		if !slices.Contains(told, want) {
			t.Errorf("%s is not forbidden: %v", want, told)
		}
	}
	if slices.Contains(told, "ran") {
		t.Error("a script that was put into the page ran")
	}
}

// checkLayout looks whether anything is cut off or too small at a width.
func checkLayout(t *testing.T, b *browser, w int) {
	t.Helper()
	var r struct {
		Wide, Inner int
		Out, Small  []string
	}
	b.eval(`(() => { const out = [], small = [];
		for (const e of document.querySelectorAll("body *")) {
			if (!e.offsetParent || e.closest(".pane, .wide, svg, script")) continue;
			const r = e.getBoundingClientRect();
			if (r.width && (r.right > innerWidth + 0.5 || r.left < -0.5)) out.push(e.tagName + "." + e.className + " " + r.left + ".." + r.right);
			if (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline" && e.clientWidth) out.push("cut: " + e.tagName + "." + e.className + " " + e.textContent.slice(0, 40));
			if ([...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) && parseFloat(getComputedStyle(e).fontSize) < 11.5) small.push(e.tagName + "." + e.className);
		}
		return { Wide: document.documentElement.scrollWidth, Inner: innerWidth, Out: out.slice(0, 5), Small: small.slice(0, 5) }; })()`, &r)
	if r.Inner != w || r.Wide > w {
		t.Errorf("at %d pixels the page is %d wide (%d)", w, r.Wide, r.Inner)
	}
	if len(r.Out) > 0 || len(r.Small) > 0 {
		t.Errorf("at %d pixels: sticks out %q, small %q", w, r.Out, r.Small)
	}
}

var spaces = regexp.MustCompile(`\s+`)

// checkFigures holds what the page shows against the JSON.
func checkFigures(t *testing.T, b *browser, doc *report.Report) {
	t.Helper()
	var own report.Report
	var text string
	b.eval(`document.getElementById("document").textContent`, &text)
	if err := json.Unmarshal([]byte(text), &own); err != nil {
		t.Fatal(err)
	}
	got, _ := json.Marshal(own)
	want, _ := json.Marshal(doc)
	if !bytes.Equal(got, want) {
		t.Error("the page holds another document than measure writes")
	}
	var rungs []struct{ Bars, Verdict string }
	b.eval(`[...document.querySelectorAll(".rung")].map(e => ({ Bars: e.querySelector(".bars").innerText, Verdict: e.querySelector(".verdict").innerText }))`, &rungs)
	if len(rungs) != len(doc.Frames) {
		t.Fatalf("%d rungs of %d frames", len(rungs), len(doc.Frames))
	}
	for k, g := range rungs {
		f := doc.Frames[len(doc.Frames)-1-k] // over above under
		share := func(v *float64) string {
			if v == nil {
				return "–"
			}
			return strings.TrimSuffix(row.Percent(*v), " %")
		}
		words := spaces.ReplaceAllString(g.Bars, " ")
		for _, w := range []string{"Blown " + share(&f.Blown.Any), "Blocked " + share(&f.Blocked.Any), "Noisy " + share(f.Noisy)} {
			if !strings.Contains(words, w) {
				t.Errorf("rung %d: no %q in %q", k, w, words)
			}
		}
		switch {
		case f.Verdict != nil && !strings.Contains(g.Verdict, row.VerdictWord(roll.Verdict(*f.Verdict))), f.Verdict == nil && f.Suggested != nil && *f.Suggested != "" && !strings.Contains(g.Verdict, *f.Suggested) && f.File != *doc.Base:
			t.Errorf("rung %d: verdict %q, of %v %v", k, g.Verdict, f.Verdict, f.Suggested)
		}
	}
	var page string
	b.eval("document.body.innerText", &page)
	page = spaces.ReplaceAllString(page, " ")
	for _, want := range append([]string{"Finding, in the words of A. <i>Judge</i>", "More light. Always.", "−1 to +2¼ stops", `negative\u200fevil\u200b`}, doc.Finding...) {
		if !strings.Contains(page, spaces.ReplaceAllString(want, " ")) {
			t.Errorf("%q is not on the page", want)
		}
	}
	if doc.Range.Holds == nil {
		t.Fatal("the roll of this test has no range")
	}
	for _, v := range doc.Range.Holds {
		if w := strings.Replace(fmt.Sprintf("%+.2f", *v), "-", "−", 1); !strings.Contains(page, w) {
			t.Errorf("the end %s is not on the page", w)
		}
	}
}

// checkUse uses the page by its keys.
func checkUse(t *testing.T, b *browser, frames int) {
	t.Helper()
	var n int
	current := func() string {
		var s string
		b.eval(`document.querySelector(".rung[aria-current=true]").getAttribute("aria-label")`, &s)
		return s
	}
	was := current()
	b.key("ArrowDown")
	if now := current(); now == was {
		t.Error("the arrow key did not go to another frame")
	}
	var heading string
	b.eval(`(document.querySelectorAll(".rung")[0].focus(), document.querySelector("#reading h2").innerText)`, &heading)
	if b.eval(`document.querySelectorAll(".rung")[0].querySelector(".stop").textContent`, &was); !strings.HasPrefix(heading, was) {
		t.Errorf("the readings are of %q where %q has the focus", heading, was)
	}
	b.key("g")
	var name string
	if b.eval(`document.querySelector(".pane .name.r").innerText`, &name); !strings.Contains(name, "salvaged") {
		t.Errorf("salvaged the picture says %q", name)
	}
	b.key("x")
	if b.eval(`document.querySelectorAll(".pane .mark").length`, &n); n == 0 {
		t.Error("no mask came")
	}
	b.key("x")
	if b.eval(`document.querySelectorAll(".pane .mark").length`, &n); n != 0 {
		t.Error("the mask did not go")
	}
	b.eval(`document.querySelector(".edge").focus()`, nil)
	b.key("ArrowRight")
	if b.eval(`Number(document.querySelector(".edge").getAttribute("aria-valuenow"))`, &n); n != 52 {
		t.Errorf("the edge stands at %d", n)
	}
	b.key("2")
	b.key("+")
	b.key("+")
	var sides []float64
	b.eval(`[...document.querySelectorAll(".pane img")].flatMap(e => [e.getBoundingClientRect().width, e.offsetLeft])`, &sides)
	if len(sides) != 4 || sides[0] != sides[2] || sides[1] != sides[3] || sides[0] <= 0 {
		t.Errorf("two pictures do not zoom together: %v", sides)
	}
	var fit float64
	b.key("f")
	if b.eval(`document.querySelector(".pane img").getBoundingClientRect().width`, &fit); fit*1.5 > sides[0] {
		t.Errorf("zoomed in a picture is %g wide, fitted %g", sides[0], fit)
	}
	b.key("5")
	b.key("g")
	// Every control has a name, and Tab comes to all of them.
	var mute []string
	b.eval(`[...document.querySelectorAll("button, select, [tabindex]")].filter(e => e.offsetParent && !(e.getAttribute("aria-label") || e.innerText || e.labels && e.labels.length)).map(e => e.outerHTML.slice(0, 80))`, &mute)
	if len(mute) > 0 {
		t.Errorf("without a name: %v", mute)
	}
	b.eval(`document.activeElement.blur()`, nil)
	seen := map[string]bool{}
	for range frames + 40 {
		b.key("Tab")
		var at string
		b.eval(`document.activeElement.className + " " + document.activeElement.tagName`, &at)
		seen[at] = true
	}
	for _, want := range []string{"rung BUTTON", "edge BUTTON", "pane DIV", " SELECT"} {
		if !seen[want] {
			t.Errorf("Tab never comes to %q: %v", want, seen)
		}
	}
}

// checkPrint prints the page and reads it back with poppler.
func checkPrint(t *testing.T, b *browser, doc *report.Report) {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Log("poppler is not installed: the printed page is not read back")
		return
	}
	var r struct{ Data string }
	b.into(b.call("Page.printToPDF", map[string]any{"printBackground": true}), &r)
	text, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	printed := spaces.ReplaceAllString(string(out), " ")
	for _, want := range append([]string{"More light.", "All frames", "Response: density", "straight line", "Brought to the base frame"}, doc.Finding[0]) {
		if !strings.Contains(printed, spaces.ReplaceAllString(want, " ")) {
			t.Errorf("%q is not printed in\n%s", want, out)
		}
	}
	images, err := exec.Command("pdfimages", "-list", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(images), "image"); n < len(doc.Frames) {
		t.Errorf("%d pictures are printed of %d frames:\n%s", n, len(doc.Frames), images)
	}
}

// Calls that make no sense, and what is written where.
func TestReportCalls(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"report", dir, "-o", filepath.Join(dir, "x.png")}, ".html"},
		{[]string{"report", filepath.Join(testdata, "rolls", "tripod"), "-o", filepath.Join(dir, "x.html"), "--salvaged", "much"}, "salvaged"},
	} {
		var out, complaints bytes.Buffer
		if code := run(t.Context(), c.args, streams{strings.NewReader(""), &out, &complaints}); code != BadCall || !strings.Contains(complaints.String(), c.want) {
			t.Errorf("%v: %d, %s", c.args, code, complaints.String())
		}
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
