package load

import (
	"context"
	"fmt"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/show/row"
	"strings"
)

// FillRow writes into a rung what the roll as a whole told of its frame. reading
// may be nil, and the registration the zero value.
func FillRow(d *row.Data, g register.Registration, reading *response.Reading) {
	if g.How != register.Unknown {
		d.Registration = &row.Registration{DX: g.DX, DY: g.DY, Rotation: g.Rotation, Scale: g.Scale,
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
func BandHeadroom(ctx context.Context, res *response.Result, base *measure.Look) (out [measure.Bands]*row.Headroom) {
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
			out[b] = &row.Headroom{Blown: h.Blown, Blocked: h.Blocked, BlownAtLeast: h.BlownAtLeast, BlockedAtLeast: h.BlockedAtLeast}
		}
	}
	return out
}

// TruthWords says for the foot of a sheet what registration, measured stops and
// the test for fixed scans came to, one sentence each. regs may be shorter than
// the roll.
func TruthWords(res *response.Result, regs []register.Registration) (out []string) {
	var sure, unsure, hand, unread int
	for _, g := range regs {
		switch {
		case g.How == register.Base:
		case g.How == register.Unknown:
			unread++
		case g.How == register.Hand:
			hand++
		case g.Reliable():
			sure++
		default:
			unsure++
		}
	}
	switch {
	case sure+unsure+hand == 0:
		out = append(out, "The frames are not registered: readings of areas are laid over each other by the image areas.")
	case unsure == 0 && unread > 0:
		out = append(out, "All frames that could be read are registered to the base frame.")
	case unsure == 0:
		out = append(out, "All frames are registered to the base frame.")
	default:
		out = append(out, fmt.Sprintf("%d of %d frames could not be registered with certainty: their readings of areas may be beside their places.", unsure, sure+unsure+hand))
	}
	if hand > 0 {
		out = append(out, fmt.Sprintf("%d of the frames were placed by hand.", hand))
	}
	if res == nil {
		return append(out, "No response was measured; stops are as labelled.")
	}
	switch {
	case res.Scan.Fixed == nil:
		out = append(out, "Whether all frames were scanned alike cannot be told: "+res.Scan.Reason)
	case *res.Scan.Fixed:
		out = append(out, "The scans are fixed. "+res.Scan.Reason)
	default:
		out = append(out, "The scans are NOT fixed. "+strings.Join(res.Scan.Findings, " "))
	}
	if res.Curve != nil {
		out = append(out, "Measured stops: only differences are certain, the labels fix scale and origin.")
	}
	for _, l := range res.Labels {
		out = append(out, l.Text)
	}
	return out
}
