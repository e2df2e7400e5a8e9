package headless

import (
	"fmt"
	"strings"

	"stopladder/analysis/bracket/plan"
)

type camerasCmd struct {
	Add            string   `placeholder:"NAME" help:"Keep a camera of your own under this name."`
	Times          []string `placeholder:"LIST" help:"Its shutter times as engraved: 1,1/2,1/4,... ; 1/500=1/410 where a test found 1/410."`
	Apertures      []string `placeholder:"LIST" help:"The apertures of its lens as engraved: 2.8,4,5.6,..."`
	TimeClicks     string   `placeholder:"CLICKS" help:"Clicks between the times: halves or thirds; none unless said."`
	ApertureClicks string   `placeholder:"CLICKS" help:"Clicks between the apertures: halves or thirds; none unless said."`
	Bulb           bool     `help:"It has B or T for longer times."`
	Remove         string   `placeholder:"NAME" help:"Forget a camera of your own."`
}

func (c *camerasCmd) Run(std streams) error {
	s := store()
	switch {
	case c.Add != "" && c.Remove != "":
		return badCall("a camera is added or removed, not both; give one of the two")
	case c.Remove != "":
		if err := s.Remove(c.Remove); err != nil {
			if f := plan.Fields(err); len(f) > 0 {
				return badCall("--remove: %s", f[0].Text)
			}
			return err
		}
	case c.Add != "":
		err := s.Put(plan.Camera{Name: c.Add, Times: trimAll(c.Times), Apertures: trimAll(c.Apertures),
			TimeClicks: plan.Clicks(c.TimeClicks), ApertureClicks: plan.Clicks(c.ApertureClicks), Bulb: c.Bulb})
		if err != nil {
			return fieldErrors(std, err)
		}
	case len(c.Times) > 0 || len(c.Apertures) > 0 || c.Bulb || c.TimeClicks+c.ApertureClicks != "":
		return badCall("say --add NAME with the times and apertures of a camera")
	}
	own, err := s.Own()
	if err != nil {
		return err
	}
	all, _ := s.All()
	var b strings.Builder
	rows := [][]string{{"camera", "times", "apertures", ""}}
	for i, cam := range all {
		note := ""
		if i < len(own) {
			note = "yours"
		}
		times, apertures := cam.Span()
		rows = append(rows, []string{printable(cam.Name), clicking(times, cam.TimeClicks), clicking(apertures, cam.ApertureClicks), note})
	}
	align(&b, rows, make([]bool, 4))
	_, err = fmt.Fprint(std.out, b.String())
	return err
}

func trimAll(list []string) (out []string) {
	for _, s := range list {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func clicking(span string, clicks plan.Clicks) string {
	if clicks != plan.Marked {
		span += ", " + string(clicks)
	}
	return printable(span)
}
