// Package early is imported for what must be set before the toolkit starts. It
// depends on nothing but the standard library's smallest packages, so that it is
// initialised before the toolkit's own packages read the environment.
package early

import (
	"os"
	"strings"
)

// The toolkit prints an error at start where the locale is "C.UTF-8" and the
// like, as on most build machines; naming a language avoids it.
func init() {
	for _, v := range []string{"LC_ALL", "LANG"} {
		if l := os.Getenv(v); l == "C" || strings.HasPrefix(l, "C.") {
			os.Setenv("LANGUAGE", "en")
		}
	}
	if os.Getenv("LC_ALL") == "" && os.Getenv("LANG") == "" && os.Getenv("LANGUAGE") == "" {
		os.Setenv("LANGUAGE", "en")
	}
}
