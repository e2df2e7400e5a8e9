package response

// FlatCodes are the code values of a frame beyond which the film no longer
// separates tones: at or above light[c], at or below dark[c]. A bound that the
// roll does not reach is beyond the scale (Max+1, -1). ok is false without a
// response.
func (r *Result) FlatCodes(frame int) (light, dark [3]int, ok bool) {
	return light, dark, false
}

// HeadroomOf is how many stops a level of the base frame (code values per
// channel, e.g. a band's or a patch's mean) is from Blown and from Blocked. ok is
// false without a response.
func (r *Result) HeadroomOf(codes [3]float64) (h Headroom, ok bool) { return h, false }
