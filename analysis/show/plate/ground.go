package plate

import (
	"image/color"

	"stopladder/analysis/show/paint"
)

// palette is what a ground carries. Text is at least 4.5:1 on it (WCAG 2.2, 1.4.3).
type palette struct {
	ground, text, dim color.NRGBA
	rule, strong      color.NRGBA // lines, and the lines that carry meaning
	track             color.NRGBA // behind bars
	judge             color.NRGBA // the judge's range, the only accent
	judgeText         color.NRGBA
	bars              [3]color.NRGBA // Blown, Blocked, Noisy
	plot              *paint.Palette
}

func paletteOf(g Ground) *palette {
	switch g {
	case White:
		p := *light
		return &p
	case Grey:
		p := *grey
		return &p
	}
	p := *dark
	return &p
}

var (
	dark = &palette{ground: paint.Hex(0x303030), text: paint.Hex(0xF2F2F2), dim: paint.Hex(0xBDBDBD), rule: paint.Hex(0x5A5A5A), strong: paint.Hex(0xA8A8A8),
		track: paint.Hex(0x484848), judge: paint.Orange, judgeText: paint.Orange, bars: [3]color.NRGBA{paint.ReddishPurple, paint.BluishGreen, paint.Yellow}, plot: plotPalette(paint.Dark, 0x303030, 0x262626, 0x5A5A5A, 0xA8A8A8, 0xF2F2F2, 0xBDBDBD, 0xFFFFFF)}
	grey = &palette{ground: paint.Hex(0x6E6E6E), text: paint.Hex(0xFFFFFF), dim: paint.Hex(0xF4F4F4), rule: paint.Hex(0x929292), strong: paint.Hex(0xDADADA),
		track: paint.Hex(0x858585), judge: paint.Hex(0xFFB52E), judgeText: paint.Hex(0xFFF4E0), bars: [3]color.NRGBA{paint.Hex(0xF0B4D2), paint.Hex(0x00402E), paint.Yellow}, plot: plotPalette(paint.Dark, 0x6E6E6E, 0x303030, 0x707070, 0xDADADA, 0xFFFFFF, 0xF4F4F4, 0xFFFFFF)}
	light = &palette{ground: paint.Hex(0xFFFFFF), text: paint.Hex(0x1A1A1A), dim: paint.Hex(0x575757), rule: paint.Hex(0xCFCFCF), strong: paint.Hex(0x6A6A6A),
		track: paint.Hex(0xE4E4E4), judge: paint.Orange, judgeText: paint.Hex(0x8A5A00), bars: [3]color.NRGBA{paint.ReddishPurple, paint.BluishGreen, paint.Hex(0xC9B400)}, plot: plotPalette(paint.Dark, 0xFFFFFF, 0xF6F6F6, 0xCFCFCF, 0x6A6A6A, 0x1A1A1A, 0x575757, 0x1A1A1A)}
)

// plotPalette is a palette of package paint with other greys, for the response plot.
func plotPalette(p paint.Palette, panel, well, rule, strong, text, dim, white uint32) *paint.Palette {
	p.Surround, p.Panel, p.Current = paint.Hex(panel), paint.Hex(panel), paint.Hex(panel)
	p.Well, p.Rule, p.Strong, p.Text, p.Dim, p.White = paint.Hex(well), paint.Hex(rule), paint.Hex(strong), paint.Hex(text), paint.Hex(dim), paint.Hex(white)
	return &p
}
