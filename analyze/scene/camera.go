package scene

import (
	"math"
	"math/rand/v2"

	"greige/colorspace"
)

// Format is the kind of file that the camera writes.
type Format string

const (
	JPEG  Format = "" // 4:2:0
	PNG   Format = "png"
	PNG16 Format = "png16" // 16 bit
)

// Camera is what stands between the scene's light and the file. The zero
// value is an ideal camera with a JPEG encoder: sharp, without noise, pixel =
// reflectance x light. Phone gives an ordinary one.
type Camera struct {
	Make, Model string  // written to EXIF; with both empty there is no EXIF record
	Lens        string  // written to EXIF; "" is none
	Blur        float64 // of the lens: standard deviation in pixels
	Sharpen     float64 // how far the camera overdoes edges to make up for it, 0..1
	Noise       float64 // shot and read noise; 1 is a phone's, after its own smoothing
	Tone        float64 // how much of the mean tone curve of real cameras it has: 0 none, 1 all
	// Rendering is how this camera departs from the mean; see Real and Exact.
	Rendering Rendering

	// Auto is how far auto-exposure brings the mean of the photo to mid-grey
	// (18 %): 1 wholly, 0 not at all. Bias shifts it, in EV.
	// Protect is the largest share of the photo that auto-exposure lets reach
	// the top of the scale (Rendering.White); 0 is no limit.
	Auto    float64
	Bias    float64
	Protect float64
	// ExposureTime (s) and Sensitivity (ISO), when both are given, fix the
	// exposure instead; with these and Auto all 0, Gain does (0 is 1).
	ExposureTime float64
	Sensitivity  int
	Gain         float64
	FNumber      float64 // 0 is 1.8

	FixedWhite  bool             // EXIF says that the white balance was set by hand
	Space       colorspace.Space // of the file: SRGB or DisplayP3, the latter with its ICC profile
	Format      Format
	Quality     int    // of JPEG; 0 is 92
	Orientation int    // EXIF 1..8: how the file's pixels lie; 0 is 1
	Taken       string // DateTimeOriginal, "2024:03:09 19:41:07"; "" is none
}

// Phone is an ordinary phone's camera: its tone curve is the mean of real
// ones, its colours are exact. Camera.Real departs from the mean as real ones do.
func Phone() Camera {
	return Camera{Make: "Invented", Model: "Pocket 3", Blur: .7, Sharpen: .3, Noise: 1, Tone: 1, Auto: 1, Quality: 92}
}

// meterConstant is K of ISO 2720 for a reflected-light meter, cd s / m2.
const meterConstant = 12.5

// midGrey is the linear signal that the meter's mean comes out as.
const midGrey = .18

// exposure is how one photo was exposed.
type exposure struct {
	gain      float64 // signal for a perfect white under the mean light
	seconds   [2]int  // exposure time as a fraction, 0, 0 when not recorded
	fNumber   float64
	iso       int
	luminance float64 // mean of the scene, cd/m2: what the meter saw
}

// meter is what auto-exposure looks at: a photo at exposure 1.
type meter struct {
	mean float64    // luminance
	rgb  [3]float64 // mean of each component
	high [256]int64 // how many pixels have their largest component in each step of 1/64
}

// above is the signal that no more than a share of the pixels exceed.
func (m *meter) above(share float64) float64 {
	var total, seen int64
	for _, n := range m.high {
		total += n
	}
	for i := len(m.high) - 1; i > 0; i-- {
		if seen += m.high[i]; float64(seen) > share*float64(total) {
			return float64(i+1) / 64
		}
	}
	return 1. / 64
}

// expose chooses the exposure for what the meter saw under lux. The signal of a luminance L is midGrey L t ISO / (K F^2)
// (ISO 2720), and a matt surface of reflectance R under E lux has L = R E/pi.
func (c Camera) expose(m meter, lux float64) exposure {
	if lux <= 0 {
		lux = 300
	}
	f := c.FNumber
	if f <= 0 {
		f = 1.8
	}
	mean := max(m.mean, 1e-4)
	e := exposure{gain: 1, fNumber: f, luminance: mean * lux / math.Pi}
	unit := midGrey * lux / math.Pi / (meterConstant * f * f) // gain at 1 s, ISO 1
	switch {
	case c.ExposureTime > 0 && c.Sensitivity > 0:
		e.iso = c.Sensitivity
		e.seconds = fraction(c.ExposureTime)
	case c.Auto > 0:
		gain := math.Pow(midGrey/mean, c.Auto*(1-c.Rendering.Steady)) * math.Exp2(c.Bias+c.Rendering.Exposure)
		if c.Protect > 0 {
			top := .97
			if c.Rendering.White > 0 {
				top = c.Rendering.White
			}
			gain = min(gain, c.response().signal(top)/m.above(c.Protect))
		}
		want := gain / unit // seconds x ISO
		// A phone takes the lowest sensitivity that a steady hand (1/50 s)
		// allows, and a longer time only when there is no more of that.
		iso := min(max(math.Round(want*50), 50), 3200)
		e.iso = int(iso)
		e.seconds = fraction(want / iso)
	default:
		if c.Gain > 0 {
			e.gain = c.Gain
		}
		return e
	}
	e.gain = unit * float64(e.iso) * float64(e.seconds[0]) / float64(e.seconds[1])
	return e
}

// fraction is a time as cameras write it: 1/n, or tenths of a second.
func fraction(t float64) [2]int {
	if t < .3 {
		return [2]int{1, min(max(int(math.Round(1/t)), 1), 1<<20)}
	}
	return [2]int{int(math.Round(t * 10)), 10}
}

// noise adds what the sensor adds: shot noise, whose variance is in
// proportion to the light, and the noise of reading.
type noise struct {
	electrons float64 // at full signal
	read      float64
	amount    float64
}

func (c Camera) noise(iso int) noise {
	if iso == 0 {
		iso = 100
	}
	// About 6000 electrons a pixel fill a phone's sensor at ISO 50, and
	// reading adds about 3.
	full := 6000 * 50 / float64(iso)
	return noise{electrons: full, read: 3 / full, amount: c.Noise}
}

// add works on one row of a photo, r, g, b by turns.
func (n noise) add(row []float32, rng *rand.Rand) {
	if n.amount <= 0 {
		return
	}
	for i, v := range row {
		s := math.Sqrt(max(float64(v), 0)/n.electrons + n.read*n.read)
		row[i] = v + float32(n.amount*s*rng.NormFloat64())
	}
}

// curve is a table from linear signal to the file's code, 0..top.
type curve struct {
	code  []uint16
	steps float32 // for a signal of 1
}

func (c Camera) curve(top int) curve {
	// Near black, where the curve is steepest (12.92), a step of the table is
	// a fifth of a code of 8 bits, and three codes of 16.
	steps := 64 * top
	if top > 255 {
		steps = 4 * top
	}
	t := curve{code: make([]uint16, steps+1), steps: float32(steps)}
	bend := c.response()
	for i := range t.code {
		e := bend.at(colorspace.EncodeSRGB(float64(i) / float64(steps)))
		t.code[i] = uint16(math.Round(min(max(e, 0), 1) * float64(top)))
	}
	return t
}

func (t *curve) at(v float32) uint16 {
	if !(v > 0) {
		return t.code[0]
	}
	i := v*t.steps + .5
	if i >= float32(len(t.code)) {
		return t.code[len(t.code)-1]
	}
	return t.code[int(i)]
}
