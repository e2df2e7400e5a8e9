package legible

import (
	"encoding/json"
	"strings"
	"testing"
)

func TestLine(t *testing.T) {
	for in, want := range map[string]string{
		"":                     "",
		"0.tif":                "0.tif",
		"写真 été −1½":           "写真 été −1½",
		"a\x1b[2Jb":            `a\x1b[2Jb`,
		"a\u202efit.b":         `a\u202efit.b`,
		"\u2066x\u2069\u200f":  `\u2066x\u2069\u200f`,
		"two\nlines\tand\rone": `two lines and\x0done`,
		"\u009b31m":            `\x9b31m`,
		"bad \xff":             `bad \xff`,
		"\ufffd":               "\ufffd",
		"می\u200cشود":          "می\u200cشود", // with a joiner
		"a\U000e0041":          `a\U000e0041`,
		"a\u200bb":             `a\u200bb`,
	} {
		if got := Line(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
		if got := Line(Line(in)); got != want {
			t.Errorf("%q twice: %q", in, got)
		}
	}
	if got := Text("two\nlines\x07"); got != "two\nlines\\x07" {
		t.Errorf("%q", got)
	}
}

func TestJSON(t *testing.T) {
	in := "a\u202eb\U000e0041 写"
	text, _ := json.Marshal(in)
	out := JSON(text)
	var back string
	if err := json.Unmarshal(out, &back); err != nil || back != in || Line(string(out)) != string(out) || !strings.Contains(string(out), "写") {
		t.Errorf("%s: %q, %v", out, back, err)
	}
}

func TestCell(t *testing.T) {
	for in, want := range map[string]string{
		"-3": "-3", "+1.5e-3": "+1.5e-3", "0": "0", "": "", "-3.tif": "'-3.tif", "=1+1": "'=1+1", "@SUM(A1)": "'@SUM(A1)", "+1+1": "'+1+1",
		"\t=1": "'\t=1", "\r=1": `'\x0d=1`, "\n=1": "'\n=1", "plain": "plain", "a=b": "a=b", "-": "'-", "＝1": "'＝1", "-1e": "'-1e", "a\r\nb": "a\nb", "'=1": "'=1",
	} {
		if got := Cell(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
