package scene

// Places names areas of the embedded courtyard: the grey card, the steps of the
// grey scale from light to dark, and areas of known kind that were set by eye on
// the picture. Where the card and the scale lie follows from the courtyard's
// geometry; the tests of cmd/mkscene compare.
var Places = []Place{
	{"grey card", 0.59893, 0.72515, 0.65117, 0.76571, 0.18},
	{"grey step 1", 0.55558, 0.78741, 0.56483, 0.80999, 0.72},
	{"grey step 2", 0.56843, 0.78778, 0.57771, 0.81040, 0.509117},
	{"grey step 3", 0.58133, 0.78814, 0.59064, 0.81080, 0.36},
	{"grey step 4", 0.59426, 0.78851, 0.60360, 0.81121, 0.254558},
	{"grey step 5", 0.60724, 0.78888, 0.61661, 0.81161, 0.18},
	{"grey step 6", 0.62026, 0.78925, 0.62967, 0.81202, 0.127279},
	{"grey step 7", 0.63333, 0.78962, 0.64277, 0.81243, 0.09},
	{"grey step 8", 0.64644, 0.78999, 0.65591, 0.81284, 0.0636396},
	{"grey step 9", 0.65960, 0.79037, 0.66910, 0.81325, 0.045},
	{"grey step 10", 0.67280, 0.79074, 0.68233, 0.81367, 0.0318198},
	{"grey step 11", 0.68605, 0.79112, 0.69561, 0.81408, 0.0225},
	{"sunlit white wall", 0.657, 0.350, 0.712, 0.386, 0},
	{"shaded white wall", 0.629, 0.508, 0.757, 0.575, 0},
	{"sunlit ochre wall", 0.014, 0.367, 0.060, 0.667, 0},
	{"deep shade", 0.460, 0.508, 0.486, 0.633, 0},
	{"tiled floor in shade", 0.440, 0.772, 0.486, 0.812, 0},
	{"paving", 0.286, 0.908, 0.471, 0.967, 0},
	{"greenery", 0.871, 0.200, 0.943, 0.450, 0},
	{"clouds", 0.270, 0.070, 0.360, 0.150, 0},
	{"blue sky", 0.486, 0.070, 0.550, 0.120, 0},
}
