package scene

import (
	"math"

	"greige/colorspace"
)

// Lamp is what lights the scene.
type Lamp string

const (
	Overcast Lamp = ""       // even
	Bulb     Lamp = "bulb"   // a lamp near one side: cosine over distance squared
	Window   Lamp = "window" // a broad source at one side
)

// Light is the light on a scene and what of its colour the camera leaves.
// The zero value is even and neutral.
type Light struct {
	Lamp     Lamp
	From     float64 // where it comes from, in degrees: 0 right, 90 the bottom, 180 left, 270 the top of the photo
	Ratio    float64 // brightest over dimmest part of the photo, lamp and vignette together, shadows aside; under 1 is even
	Vignette float64 // share of the light that the lens loses in the corners, 0..0.5
	Lux      float64 // mean illuminance of the scene; 0 is 300, a lit room
	Kelvin   float64 // correlated colour temperature; 0 is neutral (D65)
	Balance  float64 // share of the cast that the camera takes out itself, 0..1
	Bradford bool    // the rest of the cast acts as a Bradford adaptation, not as a diagonal in linear sRGB
	Shadows  []Shadow
}

// Shadow is a place that gets less light. X and Y are shares of the photo's
// width and height, sizes shares of its width.
type Shadow struct {
	X, Y, W, H float64 // middle and size
	Angle      float64 // degrees
	Depth      float64 // share of the light that is lost, 0..1
	Soft       float64 // width of the edge
	Half       bool    // everything beyond a straight line through X, Y
}

// Field is the light of one photo: illumination relative to its mean, over
// the pixels of the upright photo. It is a smooth function, not a table.
type Field struct {
	light         Light
	width, height float64
	toward        point   // unit vector to the lamp
	bend          float64 // how steep the lamp's fall is
	vignette      float64 // loss at the distance 1 of lamp's coordinates, squared
	scale         float64
}

// Field calibrates the light over a photo of the given size in pixels.
func (l Light) Field(width, height int) Field {
	f := Field{light: l, width: float64(width), height: float64(height), scale: 1}
	f.toward.y, f.toward.x = math.Sincos(l.From * math.Pi / 180)
	aspect := min(f.width, f.height) / max(f.width, f.height)
	f.vignette = l.Vignette / (1 + aspect*aspect)
	if l.Lamp != Overcast && l.Ratio > 1 {
		lo, hi := 1e-4, 1e3 // ratio rises with bend
		for range 60 {
			f.bend = math.Sqrt(lo * hi)
			if _, r := f.survey(); r < l.Ratio {
				lo = f.bend
			} else {
				hi = f.bend
			}
		}
	}
	mean, _ := f.survey()
	f.scale = 1 / mean
	return f
}

// survey looks at lamp and vignette over the whole photo: the mean, and the
// brightest over the dimmest place.
func (f *Field) survey() (mean, ratio float64) {
	const n = 24
	lo, hi, sum := math.Inf(1), 0.0, 0.0
	for j := range n + 1 {
		for i := range n + 1 {
			e := f.lamp(f.width*float64(i)/n, f.height*float64(j)/n)
			lo, hi = min(lo, e), max(hi, e)
			if i < n && j < n {
				sum += f.lamp(f.width*(float64(i)+.5)/n, f.height*(float64(j)+.5)/n)
			}
		}
	}
	return sum / (n * n), hi / lo
}

// lamp is the light of lamp and vignette at a pixel.
func (f *Field) lamp(px, py float64) float64 {
	half := max(f.width, f.height) / 2
	x, y := (px-f.width/2)/half, (py-f.height/2)/half
	e := 1.0
	if f.bend > 0 {
		switch f.light.Lamp {
		case Bulb: // the lamp hangs over a point just beyond the edge
			dx, dy := x-1.05*f.toward.x, y-1.05*f.toward.y
			q := 1 + f.bend*(dx*dx+dy*dy)
			e = 1 / (q * math.Sqrt(q))
		default:
			e = 1 / (1 + f.bend*(1.5-(x*f.toward.x+y*f.toward.y)))
		}
	}
	e *= 1 - f.vignette*(x*x+y*y)
	return e
}

// at is the illumination at a place of the upright photo, shadows included;
// 1 is the mean of the photo without its shadows.
func (f *Field) at(x, y float64) float64 {
	e := f.lamp(x, y) * f.scale
	for i := range f.light.Shadows {
		e *= 1 - f.light.Shadows[i].at(x/f.width, y/f.width, f.height/f.width)
	}
	return e
}

// at is the share of light lost at x, y in shares of the photo's width.
func (s *Shadow) at(x, y, aspect float64) float64 {
	sin, cos := math.Sincos(s.Angle * math.Pi / 180)
	x, y = x-s.X, y-s.Y*aspect
	x, y = cos*x+sin*y, cos*y-sin*x
	soft := max(s.Soft, 1e-4)
	if s.Half {
		return s.Depth * smoothstep(-soft/2, soft/2, x)
	}
	// Distance to the edge of the ellipse, near enough for a soft one.
	r := math.Hypot(2*x/s.W, 2*y/s.H)
	d := (1 - r) * min(s.W, s.H) / 2
	return s.Depth * smoothstep(-soft/2, soft/2, d)
}

// cast is what the light and the camera's white balance do to a colour, as a
// matrix on linear sRGB that keeps the luminance of grey.
func (l Light) cast() colorspace.Matrix {
	if l.Kelvin <= 0 {
		return colorspace.Matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	locus := colorspace.PlanckianChromaticity // a lamp; from 4000 K daylight
	if l.Kelvin >= 4000 {
		locus = colorspace.DaylightChromaticity
	}
	rest := colorspace.XYZOf(locus(l.Kelvin)).Linear()
	for i := range rest {
		rest[i] = math.Pow(max(rest[i], .01), 1-l.Balance)
	}
	lum := rest.Y()
	for i := range rest {
		rest[i] /= lum
	}
	if !l.Bradford {
		return colorspace.Matrix{{rest[0], 0, 0}, {0, rest[1], 0}, {0, 0, rest[2]}}
	}
	rgb := colorspace.SRGB.ToXYZ()
	return rgb.Inverse().Mul(colorspace.AdaptationBradford(colorspace.WhiteD65(), rest.XYZ())).Mul(rgb)
}
