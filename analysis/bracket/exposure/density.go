package exposure

// StopDensity is one stop on the log10 axis of exposure and density: log10 2.
const StopDensity = 0.30102999566398119521

// DensityStops returns a difference of density (or of log exposure) in stops.
func DensityStops(density float64) float64 { return density / StopDensity }
