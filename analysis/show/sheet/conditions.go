package sheet

import (
	"fmt"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/register"
	"stopladder/analysis/judge/roll"
)

// conditions returns what registration, measured stops and the test for fixed scans came
// to, one sentence each.
func conditions(r *film.Roll) (out []string) {
	if s := howMade(r.Judged); s != "" {
		out = append(out, s)
	}
	var sure, unsure, hand, unread int
	for _, f := range r.Frames {
		switch g := f.Registration; {
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
	case len(r.Frames) < 2:
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
	res := r.Response
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

// howMade is what the title block says of how the roll was made, apart from the stock, the
// base exposure and the date, which every page has.
func howMade(r *roll.Roll) string {
	var parts []string
	for _, t := range []struct{ head, text string }{{"scene", r.Scene}, {"metering", r.Metering}, {"development", r.Development}, {"lab", r.Lab}, {"scanner", r.Scanner}} {
		if text := strings.TrimSpace(t.text); text != "" {
			parts = append(parts, t.head+": "+text)
		}
	}
	if len(parts) == 0 {
		return ""
	}
	s := strings.Join(parts, "; ") + "."
	return strings.ToUpper(s[:1]) + s[1:]
}
