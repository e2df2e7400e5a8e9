package shellpages_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/headless"
	"stopladder/analysis/headless/shellpages"
)

func page(t *testing.T) string {
	t.Helper()
	app, err := headless.Definitions()
	if err != nil {
		t.Fatal(err)
	}
	return shellpages.Man(app, shellpages.About{Version: headless.Version, Date: "2026-01-01", More: "The manual: stopladder manual."})
}

// groff, which sets such pages, finds no fault, and what it sets has every command and flag.
func TestManPageByGroff(t *testing.T) {
	if _, err := exec.LookPath("groff"); err != nil {
		t.Skip("groff is not installed")
	}
	var out, faults bytes.Buffer
	c := exec.Command("groff", "-man", "-Tutf8", "-wall", "-rLL=200n", "-P-cbou")
	c.Stdin, c.Stdout, c.Stderr = strings.NewReader(page(t)), &out, &faults
	if err := c.Run(); err != nil || faults.Len() > 0 {
		t.Fatalf("%v: %s", err, &faults)
	}
	set := strings.ReplaceAll(out.String(), "−", "-")
	for _, want := range append(headless.Commands()[:4:4], "--arrangement", "--limits-out", "-o, --output", "EXIT STATUS", "stopladder-measure", "exposure latitude from the scans") {
		if !strings.Contains(set, want) {
			t.Errorf("%q is not on the page:\n%s", want, set[:min(len(set), 3000)])
		}
	}
}

// bash itself completes commands, flags and values.
func TestBashCompletes(t *testing.T) {
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("bash is not installed")
	}
	app, err := headless.Definitions()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "complete"), []byte(shellpages.Bash(app, "stopladder")), 0o600); err != nil {
		t.Fatal(err)
	}
	for typed, want := range map[string]string{
		"stopladder meas":                 "measure",
		"stopladder sheet --arr":          "--arrangement",
		"stopladder sheet --grou":         "--ground",
		"stopladder measure --first-look": "--first-look",
	} {
		words := strings.Fields(typed)
		quoted := ""
		for _, w := range words {
			quoted += " '" + w + "'"
		}
		c := exec.Command("bash", "-c", `. ./complete; COMP_WORDS=(`+quoted+`); COMP_CWORD=$((${#COMP_WORDS[@]}-1)); _stopladder; printf '%s\n' "${COMPREPLY[@]}"`)
		c.Dir = dir
		out, err := c.CombinedOutput()
		if err != nil || !strings.Contains("\n"+string(out), "\n"+want+"\n") {
			t.Errorf("%q: %v, %q", typed, err, out)
		}
	}
}

// Every command and every flag is in each shell's completions.
func TestEveryFlagIsCompleted(t *testing.T) {
	app, err := headless.Definitions()
	if err != nil {
		t.Fatal(err)
	}
	shells := map[string]string{"bash": shellpages.Bash(app, "x"), "zsh": shellpages.Zsh(app, "x"), "fish": shellpages.Fish(app, "x")}
	n := 0
	for _, c := range app.Children {
		for _, f := range c.Flags {
			if f.Hidden || f.Name == "help" {
				continue
			}
			n++
			for shell, text := range shells {
				if !strings.Contains(text, "-"+f.Name) && !strings.Contains(text, "-l "+f.Name) || !strings.Contains(text, c.Name) {
					t.Errorf("%s: %s --%s is missing", shell, c.Name, f.Name)
				}
			}
		}
	}
	if n < 60 {
		t.Errorf("%d flags", n)
	}
	if _, err := exec.LookPath("zsh"); err == nil {
		c := exec.Command("zsh", "-n", "/dev/stdin")
		c.Stdin = strings.NewReader(shells["zsh"])
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("zsh: %v %s", err, out)
		}
	}
}
