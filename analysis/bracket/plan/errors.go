package plan

import (
	"errors"
	"fmt"
	"strings"
)

// Field names a field of Form, of Camera or of Log by its JSON member.
type Field string

// The fields that an error may name.
const (
	FieldTitle       Field = "title"
	FieldStock       Field = "stock"
	FieldMeter       Field = "meter"
	FieldMeterSpeed  Field = "meterSpeed"
	FieldFilter      Field = "filter"
	FieldISO         Field = "iso"
	FieldCamera      Field = "camera"
	FieldVary        Field = "vary"
	FieldHold        Field = "hold"
	FieldFrom        Field = "from"
	FieldTo          Field = "to"
	FieldStep        Field = "step"
	FieldFormat      Field = "format"
	FieldFrames      Field = "frames"
	FieldFirst       Field = "first"
	FieldOrder       Field = "order"
	FieldReciprocity Field = "reciprocity"

	// Of a camera.
	FieldName           Field = "name"
	FieldTimes          Field = "times"
	FieldApertures      Field = "apertures"
	FieldTimeClicks     Field = "timeClicks"
	FieldApertureClicks Field = "apertureClicks"

	// Of a log.
	FieldShot  Field = "shots"
	FieldLight Field = "light"
	FieldNote  Field = "note"
)

// FieldError is what is wrong with one field: one sentence without full stop that
// says what to write instead.
type FieldError struct {
	Field Field
	Text  string
}

func (e *FieldError) Error() string { return e.Text }

// Errors are all that is wrong with a form, in the order of its fields; at most
// one for each field.
type Errors []*FieldError

func (es Errors) Error() string {
	texts := make([]string, len(es))
	for i, e := range es {
		texts[i] = e.Text
	}
	return strings.Join(texts, "; ")
}

// Unwrap returns the single errors to errors.As.
func (es Errors) Unwrap() []error {
	out := make([]error, len(es))
	for i, e := range es {
		out[i] = e
	}
	return out
}

// On returns the sentence on a field, "" when nothing is wrong with it.
func (es Errors) On(f Field) string {
	for _, e := range es {
		if e.Field == f {
			return e.Text
		}
	}
	return ""
}

// Fields takes an error of this package apart into its field errors; nil when it
// has none.
func Fields(err error) Errors {
	var es Errors
	if errors.As(err, &es) {
		return es
	}
	var e *FieldError
	if errors.As(err, &e) {
		return Errors{e}
	}
	return nil
}

func (es *Errors) add(f Field, format string, args ...any) {
	if es.On(f) == "" {
		*es = append(*es, &FieldError{f, fmt.Sprintf(format, args...)})
	}
}

// put adds what a reader said of a field.
func (es *Errors) put(f Field, err error) {
	if err != nil {
		es.add(f, "%s", err.Error())
	}
}

// or returns the errors as an error that is nil when there are none.
func (es Errors) or() error {
	if len(es) == 0 {
		return nil
	}
	return es
}

// quote puts what was typed in quotation marks, cut to a readable length.
func quote(text string) string {
	if rs := []rune(text); len(rs) > 40 {
		text = string(rs[:40]) + "…"
	}
	return fmt.Sprintf("%q", text)
}
