package photo

import (
	"image"
	"math"

	"greige/colorspace"
)

const (
	brokenProfile = "the colour profile is damaged and was left out"
	unknownSpace  = "the colour space is not known here and was taken for sRGB"
)

// space is what the codes of a file mean. In most spaces three curves make
// light of the codes and one matrix makes sRGB's lights of those, so that the
// matrix can wait until after averaging. In others (tables, inks) the whole
// code has to be converted, pixel by pixel.
type space struct {
	// curve makes light, 0..1, of a code, 0..1, one for each channel. Nil in
	// spaces that are converted as a whole.
	curve [3]func(float64) float64
	// alike: the three curves are one.
	alike bool
	// converter gives a function that makes light of a whole code, 0..1; each
	// goroutine needs one of its own. Nil where there are curves.
	converter func() func(code *[4]float64) [3]float64
	// matrix and offset make linear sRGB of that light: matrix x + offset.
	matrix colorspace.Matrix
	offset [3]float64
}

var identity = colorspace.Matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// curved is a space of one curve and the matrix.
func curved(curve func(float64) float64, matrix colorspace.Matrix) *space {
	return &space{curve: [3]func(float64) float64{curve, curve, curve}, alike: true, matrix: matrix}
}

func srgbSpace() *space { return curved(colorspace.DecodeSRGB, identity) }

func adobeSpace() *space {
	// Adobe RGB (1998) 4.3.4.2: the exponent is 2.19921875, which is 563/256.
	return curved(power(563.0/256), colorspace.AdobeRGB.ToLinearSRGB())
}

func power(exponent float64) func(float64) float64 {
	return func(v float64) float64 { return math.Pow(max(v, 0), exponent) }
}

// usualSpace is what a picture without any word of its space is taken for.
func usualSpace(img image.Image) *space {
	if _, inks := img.(*image.CMYK); inks {
		return inkSpace()
	}
	return srgbSpace()
}

// inkSpace is the plain mixture of inks without a profile: each ink takes its
// share of the light of the encoded colour, R = (1-C)(1-K).
func inkSpace() *space {
	return &space{matrix: identity,
		converter: func() func(*[4]float64) [3]float64 {
			return func(c *[4]float64) [3]float64 {
				var out [3]float64
				for i := range out {
					out[i] = colorspace.DecodeSRGB((1 - c[i]) * (1 - c[3]))
				}
				return out
			}
		}}
}

// spaceFor is the space that the header names for the decoded picture, or the
// usual one, with a note where it could not be used.
func (h *header) spaceFor(img image.Image) *space {
	channels := 3
	switch img.(type) {
	case *image.CMYK:
		channels = 4
	case *image.Gray, *image.Gray16:
		channels = 1
	}
	if h.profile != nil {
		sp, err := profileSpace(h.profile, channels)
		if err == nil {
			return sp
		}
		h.note(err.Error())
	} else if h.space != nil && channels < 4 {
		return h.space
	}
	if channels == 4 {
		h.note("CMYK without a colour profile: its colours are a guess")
	}
	return usualSpace(img)
}

// The lights of code points that pictures use, ITU-T H.273 table 2: red, green and
// blue. White is D65 in all.
var (
	bt601Line50 = lights([2]float64{.64, .33}, [2]float64{.29, .60}, [2]float64{.15, .06})
	bt601Line60 = lights([2]float64{.63, .34}, [2]float64{.31, .595}, [2]float64{.155, .07})
	bt2020      = lights([2]float64{.708, .292}, [2]float64{.170, .797}, [2]float64{.131, .046})
)

func lights(red, green, blue [2]float64) colorspace.Primaries {
	return colorspace.Primaries{White: colorspace.SRGB.Primaries().White, Red: red, Green: green, Blue: blue}
}

// codePointSpace is the space of two code points of ITU-T H.273. It is nil
// where they mean sRGB; false means that they are not known here.
func codePointSpace(primaries, curve int) (*space, bool) {
	p := colorspace.SRGB.Primaries()
	switch primaries {
	case 1, 2:
	case 5:
		p = bt601Line50
	case 6, 7:
		p = bt601Line60
	case 9:
		p = bt2020
	case 12:
		p = colorspace.DisplayP3.Primaries()
	default:
		return nil, false
	}
	decode := colorspace.DecodeSRGB
	switch curve {
	case 1, 2, 6, 13, 14, 15:
		// Stills marked with the curve of a video camera (1, 6, 14, 15) are
		// made for, and shown by, screens that follow sRGB's.
		if p == colorspace.SRGB.Primaries() {
			return nil, true
		}
	case 4:
		decode = power(2.2)
	case 5:
		decode = power(2.8)
	case 8:
		decode = func(v float64) float64 { return v }
	case 16:
		decode = perceptualQuantizer
	default:
		return nil, false
	}
	return curved(decode, p.ToLinearSRGB()), true
}

// perceptualQuantizer decodes SMPTE ST 2084, scaled so that 1 is the white of
// a sheet of paper, 203 cd/m2 (ITU-R BT.2408-7, table 1).
func perceptualQuantizer(v float64) float64 {
	const (
		m1, m2     = 2610.0 / 16384, 2523.0 / 32
		c1, c2, c3 = 3424.0 / 4096, 2413.0 / 128, 2392.0 / 128
	)
	p := math.Pow(max(v, 0), 1/m2)
	return math.Pow(max(p-c1, 0)/(c2-c3*p), 1/m1) * 10000 / 203
}

// fromXYZ65 is the matrix from XYZ under D65 to linear sRGB.
func fromXYZ65() colorspace.Matrix { return colorspace.SRGB.ToXYZ().Inverse() }

// fromXYZ50 is the matrix from XYZ of the profile connection space, D50.
func fromXYZ50() colorspace.Matrix {
	return fromXYZ65().Mul(colorspace.AdaptationBradford(colorspace.WhiteD50(), colorspace.WhiteD65()))
}

// whiteIsWhite scales the rows of m so that full red, green and blue give
// exactly the white of sRGB: profiles are rounded, and a grey has to stay one.
// False when it is far from that, so that something is wrong with m.
func whiteIsWhite(m colorspace.Matrix, offset [3]float64) (colorspace.Matrix, bool) {
	for i := range m {
		sum := m[i][0] + m[i][1] + m[i][2]
		want := 1 - offset[i]
		if !(math.Abs(sum-want) < .05) {
			return m, false
		}
		for j := range m[i] {
			m[i][j] *= want / sum
		}
	}
	return m, true
}

// white is the light that the matrix makes white of, as sums hold it.
func (s *space) white() [3]int32 {
	v := s.matrix.Inverse().Apply([3]float64{1 - s.offset[0], 1 - s.offset[1], 1 - s.offset[2]})
	return [3]int32{fixed(v[0]), fixed(v[1]), fixed(v[2])}
}
