package ui

import "testing"

// RFC 8089: the local path, and of its appendix E the drive (E.2) and the share (E.3.1).
func TestFileURL(t *testing.T) {
	for path, want := range map[string]string{
		"/home/ada/a b.png":             "file:///home/ada/a%20b.png",
		"C:/Users/ada/+1⅓.png":          "file:///C:/Users/ada/+1%E2%85%93.png",
		"//nas/scans/2026/sheet #1.pdf": "file://nas/scans/2026/sheet%20%231.pdf",
	} {
		if got := fileURL(path).String(); got != want {
			t.Errorf("%s became %s, want %s", path, got, want)
		}
	}
}
