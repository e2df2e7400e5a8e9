// Package roll holds what belongs to one test: which scans, at which stops, and
// everything that the judge made. It reads and writes the roll file (a
// versioned JSON document, extension .stopladder) and keeps a recovery copy of
// unsaved work.
package roll
