package files

import "golang.org/x/sys/windows"

// roots are the drives that there are, a network's among them; none is asked for what it
// holds, since one without a disk would keep the window waiting.
func roots() []root {
	mask, err := windows.GetLogicalDrives()
	if err != nil {
		return nil
	}
	return drives(mask)
}
