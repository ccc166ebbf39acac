package scene

import (
	"math"
	"math/rand/v2"

	"greige/colorspace"
)

// Rendering is what one camera does to the light between its lens and its
// file, beyond what cameras do in the mean (Camera.Tone). All of it is smooth,
// keeps greys grey and brighter light of one colour brighter. The zero value
// does nothing.
type Rendering struct {
	// Exposure is how much more light than the meter asks for the camera
	// takes, in EV, because its tone curve is made for that.
	Exposure float64
	// Steady is how little the exposure follows the mean light of the photo: 0
	// as the meter says, 1 not at all. A camera sees that white paper is white.
	Steady float64
	// White is how bright, in the file's linear light, the camera lets the
	// brightest of a photo get that it protects (Camera.Protect); 0 is .97.
	White float64
	// Glare is the light that lens and housing scatter evenly over the sensor
	// less the black level that the camera subtracts, as a share of the mean
	// light of the photo. It is negative where the camera subtracts too much.
	Glare float64
	// Toe, Shoulder and Lift change the tone curve; see response.
	Toe, Shoulder, Lift float64
	// Mix is how much of another component goes into each, in linear light:
	// of green and blue into red, of red and blue into green, of red and green
	// into blue. What a component gains it loses of its own, so that greys stay.
	Mix [6]float64
	// Saturation is how far colours are drawn away from the grey of their
	// luminance, as a share; negative is nearer to it.
	Saturation float64
	// Hue is how much lighter a hue is drawn, as the natural logarithm of a
	// factor on all three components: the cosine and sine of once, twice and
	// three times the hue angle. Chroma is the same for all hues.
	Hue    [6]float64
	Chroma float64
}

// The mean and the spread of real cameras. They were fitted on the middles of
// the patches of 24 photos of the 24-patch chart from 11 repositories, each of
// which weighs the same (testdata/real/chart_patches.csv, the main photos):
// exposure, glare and the three exponents of the tone curve on the six greys
// of each photo, which leaves .011 of the encoded scale (median of the largest
// residuals); matrix, saturation and hues so that the errors of the 18 colours
// have the measured mean and spread once the tone curve is drawn too.
// TestDrawnCamerasErrLikeReal compares the two.
const (
	meanToe, meanShoulder, meanLift = .26, .15, -.41
	// Between the sources the fits spread by .29, .31 and .57; their priors (.4,
	// .4 and .6) draw them a little towards the mean.
	spreadToe, spreadShoulder, spreadLift = .29, .34, .6
	// A curve that deepens shadows more is lifted more in the middle, and one
	// with a stronger shoulder less: correlations of Lift with Toe and Shoulder
	// of -.61 and .62 in the fits. The third number makes the variance 1.
	liftByToe, liftByShoulder, liftAlone = -.68, .69, .25
	// The mean curve lifts mid-grey by .29 (natural logarithm; mean over the
	// sources), and a meter's mid-grey is meant of the file: so much less light
	// is taken. Exposures spread by .25 about that, and a camera with a shoulder
	// or less lift takes more light (correlations .64 and .62).
	meanExposure, spreadExposure                      = -.29, .25
	exposureByShoulder, exposureByLift, exposureAlone = .6, .5, .62
	// White paper fills half and more of the photos of one source. By the meter
	// alone it would stand at .18 / .5 = .36 of the sensor's scale; it stands at
	// .55, so that half of the meter's way (of its logarithm) is gone.
	steady = .5
	// Of the 24 white patches the largest component stands at .74 in the files,
	// sources alike, and spreads by .13; nobody burns what is white on purpose.
	meanWhite, spreadWhite, lowestWhite, highestWhite = .74, .13, .5, .97
	// Veiling glare of 2.5 % of the mean light, within a factor of 2.2 either
	// way, of which cameras take 2 % off as black: in the fits the sum is .002
	// to .003 of white in most photos and .015 in the photos of one repository.
	meanGlare, spreadGlare, blackLevel = .025, .8, .02
	spreadMix                          = .05
	meanSaturation, spreadSaturation   = -.05, .1
	// Blues and violets come out lighter than yellows and oranges: once round
	// the circle, by this at the hue angle of blue (240 degrees, see hueGain).
	meanBlue                 = .09
	spreadHue                = .08
	meanChroma, spreadChroma = .035, .03
	// No camera lies farther from the mean than this many spreads in any of
	// these: the farthest of 11 sources lies 2 away (shallow toe), 1.9
	// (shoulder) and 2 (lift); beyond that is a broken file, not a camera.
	farthest = 2
)

// shareOfHarmonic is how strongly once, twice and three times round the circle
// of hues vary. Weaker high ones leave too little between like colours: on the
// photos these differ by 4.0 L* more or less than in truth (root mean square).
var shareOfHarmonic = [3]float64{1, 1, .8}

// AnyRendering draws one real camera: what a seed gives is always the same.
// The spreads are those measured; see the constants above.
func AnyRendering(seed uint64) Rendering {
	rng := rand.New(rand.NewPCG(seed, 28))
	z := func() float64 { return min(max(rng.NormFloat64(), -farthest), farthest) }
	toe, shoulder := z(), z()
	lift := liftByToe*toe + liftByShoulder*shoulder + liftAlone*z()
	exposure := exposureByShoulder*shoulder + exposureByLift*lift + exposureAlone*z()
	r := Rendering{
		Exposure: (meanExposure + spreadExposure*exposure) / math.Ln2,
		Steady:   steady,
		Glare:    meanGlare*math.Exp(spreadGlare*z()) - blackLevel,
		Toe:      spreadToe * toe, Shoulder: spreadShoulder * shoulder, Lift: spreadLift * lift,
		Saturation: meanSaturation + spreadSaturation*z(),
		Chroma:     meanChroma + spreadChroma*z(),
	}
	for i := range r.Mix {
		r.Mix[i] = spreadMix * z()
	}
	for i := range r.Hue {
		r.Hue[i] = spreadHue * shareOfHarmonic[i/2] * z()
	}
	r.White = min(max(meanWhite+spreadWhite*z(), lowestWhite), highestWhite)
	sin, cos := math.Sincos(240 * math.Pi / 180)
	r.Hue[0] += meanBlue * cos
	r.Hue[1] += meanBlue * sin
	return r
}

// Real is the camera with a tone curve, glare and colour rendering as real
// ones have, drawn by a seed.
func (c Camera) Real(seed uint64) Camera {
	c.Tone, c.Rendering = 1, AnyRendering(seed)
	return c
}

// Exact is the camera without tone curve, glare and rendering: its file holds
// the light that came in, as no real camera's does.
func (c Camera) Exact() Camera {
	c.Tone, c.Rendering = 0, Rendering{}
	return c
}

// renderer applies glare, colour matrix and hues to linear light.
type renderer struct {
	glare  [3]float32
	matrix [3][3]float32
	hue    [7]float32
	still  bool // nothing to do
}

// renderer prepares a photo whose components have that mean on the sensor,
// 1 for the top of the scale.
func (r Rendering) renderer(mean [3]float64) renderer {
	out := renderer{still: r == Rendering{Exposure: r.Exposure, Steady: r.Steady, White: r.White, Toe: r.Toe, Shoulder: r.Shoulder, Lift: r.Lift}}
	mix := colorspace.Matrix{
		{1 - r.Mix[0] - r.Mix[1], r.Mix[0], r.Mix[1]},
		{r.Mix[2], 1 - r.Mix[2] - r.Mix[3], r.Mix[3]},
		{r.Mix[4], r.Mix[5], 1 - r.Mix[4] - r.Mix[5]},
	}
	var saturate colorspace.Matrix
	lum := colorspace.LuminanceWeights()
	for i := range 3 {
		out.glare[i] = float32(r.Glare * mean[i])
		for j := range 3 {
			saturate[i][j] = -r.Saturation * lum[j]
		}
		saturate[i][i] += 1 + r.Saturation
	}
	m := saturate.Mul(mix)
	for i := range 3 {
		for j := range 3 {
			out.matrix[i][j] = float32(m[i][j])
		}
	}
	for i, v := range r.Hue {
		out.hue[i] = float32(v)
	}
	out.hue[6] = float32(r.Chroma)
	return out
}

// at is what becomes of the light on one pixel of the sensor.
func (r *renderer) at(px [3]float32) [3]float32 {
	if r.still {
		return px
	}
	for i := range px {
		px[i] += r.glare[i]
	}
	m := &r.matrix
	out := [3]float32{
		m[0][0]*px[0] + m[0][1]*px[1] + m[0][2]*px[2],
		m[1][0]*px[0] + m[1][1]*px[1] + m[1][2]*px[2],
		m[2][0]*px[0] + m[2][1]*px[1] + m[2][2]*px[2],
	}
	gain := r.hueGain(out)
	for i := range out {
		out[i] *= gain
	}
	return out
}

// hueGain is the factor that lightens a colour by its hue and chroma. Hue is
// the angle of the point (x, y) in the plane in which red, green and blue lie
// at 0, 120 and 240 degrees and grey at the middle; how strong the factor is
// rises with the distance from grey, from 0 to 1; it is .7 at a chroma of some
// 25 CIELAB. The factor goes by the colour alone and not by
// how light it is, so that more light is always more in the file.
func (r *renderer) hueGain(px [3]float32) float32 {
	mean := (px[0] + px[1] + px[2]) / 3
	if !(mean > 1e-4) { // black has no hue
		return 1
	}
	x := (px[0] - (px[1]+px[2])/2) / mean
	y := float32(math.Sqrt(.75)) * (px[1] - px[2]) / mean
	const half = .8 // distance at which the strength is 1 / sqrt(2)
	d := float32(1 / math.Sqrt(float64(x*x+y*y+half*half)))
	x, y = x*d, y*d
	// Cosines and sines of twice and three times the angle, times the strength
	// to that power, are powers of the complex number x + iy.
	x2, y2 := x*x-y*y, 2*x*y
	x3, y3 := x2*x-y2*y, x2*y+y2*x
	h := r.hue[0]*x + r.hue[1]*y + r.hue[2]*x2 + r.hue[3]*y2 + r.hue[4]*x3 + r.hue[5]*y3 + r.hue[6]*(x*x+y*y)
	return 1 + h*(1+h*(.5+h/6)) // exp(h), within a thousandth for the h of cameras
}

// response is a tone curve: the code 0..1 of a signal that is e, 0..1, in the
// file's encoding when the camera bends nothing. The odds of the code are
//
//	code / (1 - code) = e^toe / (lift (1 - e)^shoulder)
//
// which rises from 0 to 1 for any positive exponents, is S-shaped for
// exponents over 1 and the straight line where all three are 1. It fits the
// greys of real photos to .011 of the scale (median of the largest residuals).
type response struct {
	toe, shoulder, lift float64
	straight            bool
}

func (c Camera) response() response {
	r := c.Rendering
	t := [3]float64{c.Tone*meanToe + r.Toe, c.Tone*meanShoulder + r.Shoulder, c.Tone*meanLift + r.Lift}
	return response{math.Exp(t[0]), math.Exp(t[1]), math.Exp(t[2]), t == [3]float64{}}
}

// signal is the linear signal, 0..1, whose code is that of the linear signal y
// without a curve.
func (r response) signal(y float64) float64 {
	if r.straight {
		return y
	}
	code, lo, hi := colorspace.EncodeSRGB(y), 0.0, 1.0
	for range 40 { // halves: to 1e-12
		if mid := (lo + hi) / 2; r.at(mid) < code {
			lo = mid
		} else {
			hi = mid
		}
	}
	return colorspace.DecodeSRGB(hi)
}

func (r response) at(e float64) float64 {
	switch {
	case r.straight:
		return e
	case e <= 0:
		return 0
	case e >= 1:
		return 1
	}
	light := math.Pow(e, r.toe)
	return light / (light + r.lift*math.Pow(1-e, r.shoulder))
}
