package light

import (
	"math"

	"greige/colorspace"
)

// castDoubt is what is not known of the colour of the light: the lights that
// a photo may still have, each with its probability.
type castDoubt []lamp

// lamp is one light as linear R, G, B against a balanced one, luminance 1.
type lamp struct {
	light colorspace.Linear
	p     float64
}

// cameraBalances is the probability that the camera has balanced the light; if
// not, it may be any between shade and a dimmed bulb (common practice, no
// source).
const cameraBalances = .5

// lampsLeft are the lights that may be left in a photo that is not balanced,
// as likely as each other: black bodies up to 4000 K, daylight above (CIE
// 15:2018), evenly by reciprocal temperature.
var lampsLeft = func() (ls []lamp) {
	const from, to, step = 100, 400, 25 // mired
	n := float64((to-from)/step + 1)
	for mired := from; mired <= to; mired += step {
		k := 1e6 / float64(mired)
		at := colorspace.PlanckianChromaticity
		if k >= 4000 {
			at = colorspace.DaylightChromaticity
		}
		ls = append(ls, lamp{colorspace.XYZOf(at(k)).Linear(), 1 / n})
	}
	return ls
}()

// witness is what cloths show of the light's colour: their mean ln R/Y and
// ln B/Y, and how many they are. Cloths scatter about grey (clothR, clothB),
// and what one maker has lies off it on the whole (basketR, basketB).
type witness struct{ r, b, n float64 }

// doubtCast weighs the lights that may be left by what the cloths show.
// balanced is the probability, before they are asked, that none is.
func doubtCast(w witness, balanced float64) castDoubt {
	d := append(castDoubt{{colorspace.Linear{1, 1, 1}, balanced}}, lampsLeft...)
	for i := range lampsLeft {
		d[1+i].p *= 1 - balanced
	}
	if w.n <= 0 {
		return d
	}
	vr, vb := clothR*clothR/w.n+basketR*basketR, clothB*clothB/w.n+basketB*basketB
	sum := 0.0
	for i := range d {
		r, b := w.r-math.Log(d[i].light[0]), w.b-math.Log(max(d[i].light[2], .02))
		d[i].p *= math.Exp(-r*r/(2*vr) - b*b/(2*vb))
		sum += d[i].p
	}
	if !(sum > 0) { // no lamp makes cloths look like that
		return doubtCast(witness{}, balanced)
	}
	for i := range d {
		d[i].p /= sum
	}
	return d
}

// effect is how far, as a share, the luminance of a piece that looks like c
// may be off for the colour of the light: root mean square over the lights.
func (d castDoubt) effect(c colorspace.Linear) float64 {
	if !(c.Y() > 0) || math.IsInf(c.Y(), 0) {
		return 0
	}
	s := 0.0
	for i := range d {
		e := d[i].off(c)
		s += d[i].p * e * e
	}
	return math.Sqrt(s)
}

// off is ln of the luminance that a piece which looks like c has under even,
// balanced light, over the one that it shows under l.
func (l *lamp) off(c colorspace.Linear) float64 {
	var t colorspace.Linear
	for k := range t {
		t[k] = max(c[k], 0) / max(l.light[k], .02)
	}
	return math.Log(max(t.Y(), 1e-6) / max(c.Y(), 1e-6))
}
