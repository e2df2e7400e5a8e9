// Package plan plans a bracket before the roll: from a meter reading, a film
// speed and a camera to the shutter time and aperture of every frame, with what
// each deviates from the stop that was wanted. It logs what was really exposed,
// and gives scans their real stops from plan and log.
//
// # From text to plan
//
// A Form holds what a person typed, as typed. Form.Request reads it; what cannot
// be read or makes no sense comes back as Errors, each a *FieldError that names
// its field and is one sentence. The form is never changed, so nothing typed is
// lost. Make plans a Request and may add errors of its own, named in the same way.
//
// # Words
//
// The base exposure is what the meter says for the film's speed; the base frame
// comes as near to it as the camera can, and Plan.BaseOffset says how near. The
// stops of all frames count from the base frame, since the test compares them with
// it. A frame's deviation is its stop less the one that was wanted, over positive.
// A mark stands for its exact value (1/125 for 1/128 s, f/11 for f/11.31), see
// package exposure; the deviation with the marks taken literally is given beside.
//
// # The plan file
//
// NAME.ladderplan is a JSON document, described by assets/schema/plan-1.json:
// what was typed, the camera, the plan, and the log. It lies beside the scans,
// where Beside finds it.
package plan
