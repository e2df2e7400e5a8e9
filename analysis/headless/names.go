package headless

// Commands are the words that make a call of the program a headless one; any
// other first argument names scans to open in the window.
func Commands() []string { return []string{"measure", "sheet", "demo", "version", "help"} }
