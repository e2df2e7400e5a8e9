//go:build !windows

package files

func roots() []root { return []root{{"Whole computer", "/"}} }
