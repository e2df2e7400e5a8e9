package report

import (
	"io"

	"stopladder/analysis/roll"
)

// Build makes the document. base is an index into entries, -1 when no frame is
// the base.
func Build(r *roll.Roll, base int, entries []Entry, opt Options) *Report {
	return &Report{Schema: Schema}
}

// EncodeJSON writes the document as indented UTF-8 JSON.
func (r *Report) EncodeJSON(w io.Writer) error { return nil }

// EncodeCSV writes one row a frame (RFC 4180, decimal points, header names with units).
func (r *Report) EncodeCSV(w io.Writer) error { return nil }
