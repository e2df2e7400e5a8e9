package main

import (
	"context"
	"crypto/md5"
	"debug/elf"
	"embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"stopladder/analysis/headless"
)

//go:embed debian
var debianTexts embed.FS

// debianFiles adds what only a package of Debian has: its own changelog, and why what its
// checker finds is left so.
func (r *release) debianFiles(all tree) error {
	changelog, err := debianTexts.ReadFile("debian/changelog")
	if err != nil {
		return err
	}
	changelog, err = zipped([]byte(strings.NewReplacer("@VERSION@", headless.Version, "@DATE@", r.when.Format(time.RFC1123Z)).Replace(string(changelog))))
	if err != nil {
		return err
	}
	all.add("usr/share/doc/stopladder/changelog.Debian.gz", changelog)
	overrides, err := debianTexts.ReadFile("debian/lintian-overrides")
	if err != nil {
		return err
	}
	all.add("usr/share/lintian/overrides/stopladder", overrides)
	return nil
}

// packages of Debian that hold the libraries which a program is linked with.
var packages = map[string]string{"libc.so.6": "libc6", "libm.so.6": "libc6", "libpthread.so.0": "libc6", "libdl.so.2": "libc6", "librt.so.1": "libc6", "libresolv.so.2": "libc6",
	"libGL.so.1": "libgl1", "libX11.so.6": "libx11-6", "libXrandr.so.2": "libxrandr2", "libXcursor.so.1": "libxcursor1", "libXi.so.6": "libxi6",
	"libXinerama.so.1": "libxinerama1", "libXxf86vm.so.1": "libxxf86vm1"}

// opened are libraries that the toolkit opens as it starts, which no program says of itself.
var opened = []string{"libxcursor1", "libxi6", "libxinerama1", "libxrandr2", "libxxf86vm1"}

// depends returns the packages that the programs need. A library of no known package is an
// error.
func depends(programs []string) (string, error) {
	need := map[string]bool{}
	for _, p := range opened {
		need[p] = true
	}
	for _, path := range programs {
		f, err := elf.Open(path)
		if err != nil {
			return "", err
		}
		libraries, err := f.ImportedLibraries()
		f.Close()
		if err != nil {
			return "", err
		}
		for _, l := range libraries {
			p, ok := packages[l]
			if !ok {
				return "", fmt.Errorf("%s needs %s, and which Debian package has it is not known", filepath.Base(path), l)
			}
			need[p] = true
		}
	}
	var list []string
	for p := range need {
		list = append(list, p)
	}
	sort.Strings(list)
	return strings.Join(list, ", "), nil
}

// debian makes the Debian package.
func (r *release) debian(ctx context.Context, t target, all tree, programs []string) error {
	if _, err := exec.LookPath("dpkg-deb"); err != nil {
		fmt.Println("no Debian package: dpkg-deb is not here")
		return nil
	}
	root := filepath.Join(r.work, "deb")
	_, files := all.sorted()
	size := 0
	var sums strings.Builder
	for _, p := range files {
		f := all[p]
		size += len(f.text)
		fmt.Fprintf(&sums, "%x  %s\n", md5.Sum(f.text), p)
		at := filepath.Join(root, p)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(at, f.text, f.mode); err != nil {
			return err
		}
	}
	need, err := depends(programs)
	if err != nil {
		return err
	}
	control := fmt.Sprintf(`Package: stopladder
Version: %s-1
Section: graphics
Priority: optional
Architecture: %s
Maintainer: The Stopladder authors <stopladder@stopladder.invalid>
Installed-Size: %d
Depends: %s
Recommends: libgl1-mesa-dri, shared-mime-info
Description: judge a film's exposure latitude from scans
 A film photographer exposes one scene at the metered exposure, then some stops
 under and some over, and gets a scan of each frame. Stopladder shows them side
 by side, corrects each towards the metered one, and says in figures what that
 costs: noise, lost area, casts, contrast. The judge gives the verdicts, marks
 the range of stops that they accept, and publishes the comparison.
`, headless.Version, t.processor, size/1024, need)
	for name, text := range map[string]string{"control": control, "md5sums": sums.String()} {
		at := filepath.Join(root, "DEBIAN", name)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(at, []byte(text), 0o644); err != nil {
			return err
		}
	}
	name := fmt.Sprintf("stopladder_%s-1_%s.deb", headless.Version, t.processor)
	c := exec.CommandContext(ctx, "dpkg-deb", "--build", "--root-owner-group", "-Zxz", root, filepath.Join(r.out, name))
	c.Env = append(os.Environ(), fmt.Sprintf("SOURCE_DATE_EPOCH=%d", r.when.Unix()))
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("dpkg-deb: %w: %s", err, out)
	}
	r.made = append(r.made, name)
	return nil
}
