package exposure

import "math"

// StopDensity is one stop on the log10 axis of exposure and density: log10 2.
const StopDensity = 0.30102999566398119521

// Density of a transmittance (or reflectance) 0..1: -log10 T (ISO 5-1).
func Density(transmittance float64) float64 { return -math.Log10(transmittance) }

// Transmittance 0..1 of a density: 10 to the power -D.
func Transmittance(density float64) float64 { return math.Pow(10, -density) }

// DensityStops is a difference of density (or of log exposure) in stops.
func DensityStops(density float64) float64 { return density / StopDensity }

// StopsDensity is stops as a difference of density (or of log exposure).
func StopsDensity(stops float64) float64 { return stops * StopDensity }

// Gain is the factor of light that stops stand for: 2 to the power of stops.
func Gain(stops float64) float64 { return math.Exp2(stops) }

// GainStops is a factor of light in stops.
func GainStops(gain float64) float64 { return math.Log2(gain) }
