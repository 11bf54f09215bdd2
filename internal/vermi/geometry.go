package vermi

import (
	"math"

	"midden/internal/farm"
)

// Lengths come in millimetres, as farm.Shape holds them; answers are litres
// and square metres. Fill depth is measured from the floor at the deepest
// place and is clamped to the shape's depth.

// CheckShape refuses a shape that holds nothing (code "shape.dimensions").
func CheckShape(s farm.Shape) error {
	var f farm.Faults
	need := func(name string, v int) {
		if v < 50 || v > 20000 {
			f.Add("shape.dimensions", "/"+name, "%s: must be between 50 and 20,000 mm for a %s; got %d", name, s.Kind, v)
		}
	}
	switch s.Kind {
	case farm.Box, farm.Stack:
		need("length_mm", s.LengthMM)
		need("width_mm", s.WidthMM)
		need("depth_mm", s.DepthMM)
		if s.Kind == farm.Stack && (s.Count < 1 || s.Count > 20) {
			f.Add("shape.dimensions", "/count", "count: must be between 1 and 20 boxes; got %d", s.Count)
		}
	case farm.Trough:
		need("length_mm", s.LengthMM)
		need("radius_mm", s.RadiusMM)
	case farm.Cylinder:
		need("radius_mm", s.RadiusMM)
		need("depth_mm", s.DepthMM)
	default:
		f.Add("shape.dimensions", "/kind", "kind: must be box, trough, cylinder or stack; got %q", string(s.Kind))
	}
	return f.Err()
}

// DepthMM is the inner depth: the radius of a trough, all boxes of a stack.
func DepthMM(s farm.Shape) float64 {
	switch s.Kind {
	case farm.Trough:
		return float64(s.RadiusMM)
	case farm.Stack:
		return float64(s.DepthMM * s.Count)
	}
	return float64(s.DepthMM)
}

func fillM(s farm.Shape, fillMM float64) float64 {
	return math.Max(0, math.Min(fillMM, DepthMM(s))) / 1000
}

// SegmentArea is the area of a circular segment of radius r and height h
// (0 to 2r), in the square of the unit given:
// r² acos((r−h)/r) − (r−h) √(2rh−h²). Standard geometry.
func SegmentArea(r, h float64) float64 {
	if r <= 0 || h <= 0 {
		return 0
	}
	h = math.Min(h, 2*r)
	// acos of a number near one loses all its digits when h is small, so the
	// half angle is taken from the half-angle sine instead.
	half := 2 * math.Asin(math.Sqrt(h/(2*r)))
	return r * r * (half - math.Sin(2*half)/2)
}

// VolumeL is the volume in litres below a fill depth.
func VolumeL(s farm.Shape, fillMM float64) float64 {
	h := fillM(s, fillMM)
	switch s.Kind {
	case farm.Box, farm.Stack:
		return m(s.LengthMM) * m(s.WidthMM) * h * 1000
	case farm.Trough:
		return SegmentArea(m(s.RadiusMM), h) * m(s.LengthMM) * 1000
	case farm.Cylinder:
		return math.Pi * m(s.RadiusMM) * m(s.RadiusMM) * h * 1000
	}
	return 0
}

func m(mm int) float64 { return float64(mm) / 1000 }

// TotalVolumeL is the volume in litres when full to the brim.
func TotalVolumeL(s farm.Shape) float64 { return VolumeL(s, DepthMM(s)) }

// SurfaceM2 is the exposed surface in m² at a fill depth. An empty trough has none.
func SurfaceM2(s farm.Shape, fillMM float64) float64 { return FedSurfaceM2(s, fillMM, 0) }

// FootprintM2 is the ground under the inside of a bin in m², as seen from above.
func FootprintM2(s farm.Shape) float64 {
	switch s.Kind {
	case farm.Box, farm.Stack:
		return m(s.LengthMM) * m(s.WidthMM)
	case farm.Trough:
		return m(s.LengthMM) * 2 * m(s.RadiusMM)
	case farm.Cylinder:
		return math.Pi * m(s.RadiusMM) * m(s.RadiusMM)
	}
	return 0
}

// FedSurfaceM2 is the exposed surface in m² less an unfed margin along every
// edge, where worms find refuge (common practice: 5 cm; Sherman, NC State,
// leaves 2 in).
func FedSurfaceM2(s farm.Shape, fillMM, marginMM float64) float64 {
	edge := func(a float64) float64 { return math.Max(0, a-2*marginMM/1000) }
	switch s.Kind {
	case farm.Box, farm.Stack:
		return edge(m(s.LengthMM)) * edge(m(s.WidthMM))
	case farm.Trough:
		r, h := m(s.RadiusMM), fillM(s, fillMM)
		return edge(m(s.LengthMM)) * edge(2*math.Sqrt(math.Max(0, 2*r*h-h*h)))
	case farm.Cylinder:
		r := edge(2*m(s.RadiusMM)) / 2
		return math.Pi * r * r
	}
	return 0
}

// FreeDepthMM is the depth left above the fill, in millimetres.
func FreeDepthMM(s farm.Shape, fillMM float64) float64 {
	return DepthMM(s) - fillM(s, fillMM)*1000
}

// FillDepthMM is the depth in millimetres that a volume in litres fills; it is
// the inverse of VolumeL, found by halving to well below a millimetre.
func FillDepthMM(s farm.Shape, volumeL float64) float64 {
	lo, hi := 0.0, DepthMM(s)
	if volumeL >= VolumeL(s, hi) {
		return hi
	}
	for range 60 {
		mid := (lo + hi) / 2
		if VolumeL(s, mid) < volumeL {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
