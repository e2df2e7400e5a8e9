//go:build !windows

package syserror

// InUse reports whether another program keeps a file from being read or replaced. Systems
// of this kind let a file be replaced that others have open.
func InUse(error) bool { return false }

func words(err error) string { return clause(err.Error()) }
