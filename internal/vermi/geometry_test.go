package vermi

import (
	"math"
	"testing"

	"midden/internal/farm"
	"pgregory.net/rapid"
)

func TestSegmentMatchesPrintedExamples(t *testing.T) {
	t.Parallel()
	// Printed worked example of a tank-volume page: chord 160, height 40,
	// radius 100: segment 4472.95 cm², times 60 cm = 268,377.1 cm³.
	near(t, "segment", SegmentArea(100, 40), 4472.95, 0.01)
	near(t, "times 60", SegmentArea(100, 40)*60, 268377.1, 0.5)
	// Printed problem: horizontal cylinder, radius 0.725 m, length 10 m, empty
	// cap of 0.2 m: 15.138 m³.
	near(t, "tank", (math.Pi*0.725*0.725-SegmentArea(0.725, 0.2))*10, 15.138, 0.0005)
	// More than half full: the rest of the circle.
	near(t, "whole", SegmentArea(1, 1.3)+SegmentArea(1, 0.7), math.Pi, 1e-12)
}

func TestTroughVolumeAndSurface(t *testing.T) {
	t.Parallel()
	// Formula as in the Math Forum's Ask Dr. Math on a horizontal tank (the
	// equivalent arcsine form); figures worked out from it.
	for _, c := range []struct{ r, l, h, litres, m2 float64 }{
		{250, 1200, 150, 59.451, 0.5499},
		{250, 1200, 250, 117.810, 0.6000},
		{300, 1000, 100, 30.975, 0.4472},
		{300, 1000, 300, 141.372, 0.6000},
	} {
		s := farm.Shape{Kind: farm.Trough, RadiusMM: int(c.r), LengthMM: int(c.l)}
		near(t, "litres", VolumeL(s, c.h), c.litres, 0.001)
		near(t, "m²", SurfaceM2(s, c.h), c.m2, 0.0001)
	}
}

func TestBoxesAndCylinders(t *testing.T) {
	t.Parallel()
	box := farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 500, DepthMM: 400}
	near(t, "box", VolumeL(box, 150), 90, 1e-9)
	near(t, "box free", FreeDepthMM(box, 150), 250, 1e-9)
	near(t, "box fed surface", FedSurfaceM2(box, 150, 50), 1.1*0.4, 1e-9)
	// Wisconsin Natural Resources (1998): a bin of 2 by 2 ft for 4 lb of scraps
	// a week, 1 ft² each lb.
	twoFeet := farm.Shape{Kind: farm.Box, LengthMM: 610, WidthMM: 610, DepthMM: 300}
	near(t, "square feet", SurfaceM2(twoFeet, 100)/(0.3048*0.3048), 4, 0.02)
	cyl := farm.Shape{Kind: farm.Cylinder, RadiusMM: 300, DepthMM: 800}
	near(t, "cylinder", TotalVolumeL(cyl), math.Pi*0.09*0.8*1000, 1e-9)
	near(t, "cylinder fed", FedSurfaceM2(cyl, 10, 50), math.Pi*0.0625, 1e-9)
	stack := farm.Shape{Kind: farm.Stack, LengthMM: 400, WidthMM: 300, DepthMM: 150, Count: 3}
	near(t, "stack", TotalVolumeL(stack), 54, 1e-9)
	near(t, "stack surface", SurfaceM2(stack, 400), 0.12, 1e-9)
}

func TestShapesThatHoldNothingAreRefused(t *testing.T) {
	t.Parallel()
	for _, s := range []farm.Shape{{}, {Kind: "cone"}, {Kind: farm.Box, LengthMM: 100, WidthMM: 0, DepthMM: 100},
		{Kind: farm.Trough, LengthMM: 1000, RadiusMM: -1}, {Kind: farm.Stack, LengthMM: 400, WidthMM: 300, DepthMM: 150}} {
		if got := farm.CodeOf(CheckShape(s)); got != "shape.dimensions" {
			t.Errorf("%+v: got %q", s, got)
		}
	}
	if err := CheckShape(farm.Shape{Kind: farm.Cylinder, RadiusMM: 300, DepthMM: 500}); err != nil {
		t.Error(err)
	}
}

func drawShape(t *rapid.T) farm.Shape {
	d := rapid.IntRange(100, 2000)
	return farm.Shape{
		Kind:     rapid.SampledFrom([]farm.ShapeKind{farm.Box, farm.Trough, farm.Cylinder, farm.Stack}).Draw(t, "kind"),
		LengthMM: d.Draw(t, "length"), WidthMM: d.Draw(t, "width"), DepthMM: d.Draw(t, "depth"), RadiusMM: d.Draw(t, "radius"),
		Count: rapid.IntRange(1, 4).Draw(t, "count"),
	}
}

func TestFillingNeverLosesVolume(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawShape(t)
		full := DepthMM(s)
		a := rapid.Float64Range(0, full).Draw(t, "a")
		b := rapid.Float64Range(a, full).Draw(t, "b")
		if VolumeL(s, a) > VolumeL(s, b)+1e-9 {
			t.Fatalf("%g mm holds more than %g mm", a, b)
		}
		if d := FillDepthMM(s, VolumeL(s, b)); math.Abs(VolumeL(s, d)-VolumeL(s, b)) > 1e-6*TotalVolumeL(s) {
			t.Fatalf("depth %g mm does not give back %g L", d, VolumeL(s, b))
		}
		// The surface is the rate at which volume grows with depth.
		const h = 0.01
		if mid := (a + b) / 2; mid > 1 && mid < full-1 {
			slope := (VolumeL(s, mid+h) - VolumeL(s, mid-h)) / (2 * h)
			if got := SurfaceM2(s, mid); math.Abs(slope-got) > 1e-3*(1+got) {
				t.Fatalf("surface %g m², volume grows by %g L/mm", got, slope)
			}
		}
	})
}
