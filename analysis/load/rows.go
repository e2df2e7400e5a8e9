package load

import (
	"context"
	"stopladder/analysis/measure"
	"stopladder/analysis/register"
	"stopladder/analysis/response"
	"stopladder/analysis/rung"
)

// FillRow writes into a rung what the roll as a whole told of its frame. reading
// may be nil, and the registration the zero value.
func FillRow(d *rung.Data, g register.Registration, reading *response.Reading) {
	if g.How != register.Unknown {
		d.Registration = &rung.Registration{DX: g.DX, DY: g.DY, Rotation: g.Rotation, Scale: g.Scale,
			Confidence: g.Confidence, ByHand: g.How == register.Hand, Refused: g.Refused()}
	}
	if reading == nil {
		return
	}
	d.MeasuredStop, d.MeasuredStopError, d.MeasuredReason = reading.MeasuredStop, reading.MeasuredStopError, reading.Reason
	if f := reading.Flat; f != nil {
		light, dark := f.Light, f.Dark
		d.FlatLight, d.FlatDark = &light, &dark
	}
}

// BandHeadroom is how many stops the mean level of each tonal band of the base
// frame has left before it is Blown and before it is Blocked.
func BandHeadroom(ctx context.Context, res *response.Result, base *measure.Look) (out [measure.Bands]*rung.Headroom) {
	if res == nil || res.Curve == nil || base == nil {
		return out
	}
	codes, n, err := base.BandCodes(ctx)
	if err != nil {
		return out // given up: nobody reads it
	}
	for b := range out {
		if n[b] == 0 {
			continue
		}
		if h, ok := res.HeadroomOf(codes[b]); ok {
			out[b] = &rung.Headroom{Blown: h.Blown, Blocked: h.Blocked, BlownAtLeast: h.BlownAtLeast, BlockedAtLeast: h.BlockedAtLeast}
		}
	}
	return out
}
