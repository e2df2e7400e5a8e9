package main

import (
	"bytes"
	"embed"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"image/png"
	"strings"

	"stopladder/analysis/headless"
	"stopladder/assets"
)

//go:embed macos
var macosFiles embed.FS

// macos packs what a Mac needs to make the program with a window of a clone: the bundle
// without its program, and the steps. Nothing of it has been run on a Mac yet.
func (r *release) macos() error {
	top := "stopladder-" + headless.Version + "-macos-recipe"
	all := tree{}
	types, err := fileTypes()
	if err != nil {
		return err
	}
	var documents, declared strings.Builder
	for _, t := range types {
		documents.WriteString(t.document())
		declared.WriteString(t.declaration())
	}
	for name, to := range map[string]string{"Info.plist": "Stopladder.app/Contents/Info.plist", "README.txt": "README.txt", "make-app.sh": "make-app.sh"} {
		text, err := macosFiles.ReadFile("macos/" + name)
		if err != nil {
			return err
		}
		all.add(top+"/"+to, []byte(strings.NewReplacer("@VERSION@", headless.Version, "@DOCUMENTS@", documents.String(), "@TYPES@", declared.String()).Replace(string(text))))
	}
	icon, err := icns()
	if err != nil {
		return err
	}
	all.add(top+"/Stopladder.app/Contents/Resources/Stopladder.icns", icon)
	text, err := r.tar(all)
	if err != nil {
		return err
	}
	return r.write(top+".tar.gz", text)
}

// fileType is one of the program's own, as assets/package declares it for Linux.
type fileType struct {
	Type    string `xml:"type,attr"`
	Comment string `xml:"comment"`
	Parent  struct {
		Type string `xml:"type,attr"`
	} `xml:"sub-class-of"`
	Glob struct {
		Pattern string `xml:"pattern,attr"`
	} `xml:"glob"`
}

func fileTypes() ([]fileType, error) {
	text, err := assets.Package.ReadFile("package/" + id + ".xml")
	if err != nil {
		return nil, err
	}
	var doc struct {
		Types []fileType `xml:"mime-type"`
	}
	err = xml.Unmarshal(text, &doc)
	return doc.Types, err
}

// uti is the type's name among Apple's: roll becomes org.stopladder.roll.
func (t fileType) uti() string {
	return "org.stopladder." + t.Type[strings.LastIndexByte(t.Type, '-')+1:]
}

func (t fileType) document() string {
	return fmt.Sprintf(`		<dict>
			<key>CFBundleTypeName</key><string>%s</string>
			<key>CFBundleTypeRole</key><string>Editor</string>
			<key>LSHandlerRank</key><string>Owner</string>
			<key>LSItemContentTypes</key><array><string>%s</string></array>
		</dict>
`, t.Comment, t.uti())
}

func (t fileType) declaration() string {
	parent := map[string]string{"application/json": "public.json", "application/zip": "public.zip-archive"}[t.Parent.Type]
	return fmt.Sprintf(`		<dict>
			<key>UTTypeIdentifier</key><string>%s</string>
			<key>UTTypeDescription</key><string>%s</string>
			<key>UTTypeConformsTo</key><array><string>%s</string></array>
			<key>UTTypeTagSpecification</key>
			<dict>
				<key>public.filename-extension</key><array><string>%s</string></array>
				<key>public.mime-type</key><string>%s</string>
			</dict>
		</dict>
`, t.uti(), t.Comment, parent, strings.TrimPrefix(t.Glob.Pattern, "*."), t.Type)
}

// icns returns the icon as macOS keeps it: entries of a type of four letters, their length
// with these eight bytes, and a PNG (from memory: Apple describes the types, not the file).
func icns() ([]byte, error) {
	var body []byte
	for _, e := range []struct {
		kind string
		side int
	}{{"ic11", 32}, {"ic12", 64}, {"ic07", 128}, {"ic08", 256}, {"ic09", 512}} {
		img, err := icon(e.side)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			return nil, err
		}
		body = binary.BigEndian.AppendUint32(append(body, e.kind...), uint32(b.Len()+8))
		body = append(body, b.Bytes()...)
	}
	return append(binary.BigEndian.AppendUint32([]byte("icns"), uint32(len(body)+8)), body...), nil
}
