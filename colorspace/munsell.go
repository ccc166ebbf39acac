package colorspace

import (
	"math"
	"sync"
)

// Munsell is a colour in Munsell notation.
type Munsell struct {
	Hue    float64 // 0 to under 100, ASTM D1535: 5 is 5R, 15 5YR, 25 5Y ... 95 5RP; 0 for a grey
	Value  float64 // 0 black to 10 white
	Chroma float64 // 0 grey and up; cloth seldom passes 16
}

// MunsellOf is the Munsell notation of c, whose L* is clamped to 0..100. Value
// is ASTM D1535's of its luminance. Hue and chroma are interpolated in the
// Munsell renotation, linearly in a* and b*, after adapting it from
// illuminant C to D65 (Bradford). Below value 1 and above 9, where the
// renotation ends, those of value 1 and 9 are taken. Beyond its strongest
// colours chroma is extrapolated. Anything not finite gives the zero Munsell.
//
// Source: ASTM D1535-08; Newhall, Nickerson and Judd 1943.
func MunsellOf(c Lab) Munsell {
	if !finite(c) {
		return Munsell{}
	}
	m := Munsell{Value: MunsellValue(LuminanceOf(c.L))}
	target := c.Chroma()
	if target == 0 {
		return m
	}
	// CIELAB was made so that its chroma is some five times Munsell's and its
	// hue angle runs with Munsell's hue: start there, and correct both by
	// what the renotation says they give. Each correction goes a part of the
	// way only, less and less, since in places the angle runs faster than
	// Munsell's hue and, in strong colours, with chroma too.
	h := c.Hue()
	m.Hue, m.Chroma = wrap100(h/3.6), target/5
	for i := range 200 {
		part := 14 / (20 + float64(i))
		a, b := renotationAB(m)
		got := math.Hypot(a, b)
		turn := math.Remainder(h-hueDegrees(a, b), 360)
		m.Hue = wrap100(m.Hue + part*turn/3.6)
		if got > 0 {
			m.Chroma *= 1 + part*(min(target/got, 2)-1)
		}
		if math.Abs(turn) < 1e-4 && math.Abs(target-got) < 1e-4*target {
			break
		}
	}
	return m
}

// wrap100 brings a hue to 0 to under 100.
func wrap100(h float64) float64 {
	h = math.Mod(h, 100)
	if h < 0 {
		h += 100
	}
	if h >= 100 { // -1e-16 + 100
		return 0
	}
	return h
}

// renotationAB is CIELAB a*, b* under D65 of m, by linear interpolation.
func renotationAB(m Munsell) (a, b float64) {
	table := renotationLab()
	v := min(max(m.Value, 1), 9) - 1
	i := min(int(v), 7)
	h := m.Hue / 2.5
	j := int(h)
	f, g := v-float64(i), h-float64(j)
	for _, corner := range [4]struct {
		row    [][2]float64
		weight float64
	}{
		{table[i][j%40], (1 - f) * (1 - g)},
		{table[i][(j+1)%40], (1 - f) * g},
		{table[i+1][j%40], f * (1 - g)},
		{table[i+1][(j+1)%40], f * g},
	} {
		step, last := m.Chroma/2, len(corner.row)-1
		if step >= float64(last) { // straight on from grey through the last colour
			w := corner.weight * step / float64(last)
			a, b = a+w*corner.row[last][0], b+w*corner.row[last][1]
			continue
		}
		k := int(step)
		e := step - float64(k)
		p, q := corner.row[k], corner.row[k+1]
		a += corner.weight * (p[0] + e*(q[0]-p[0]))
		b += corner.weight * (p[1] + e*(q[1]-p[1]))
	}
	return a, b
}

// renotation are the chromaticities of the Munsell renotation under CIE
// illuminant C: renotation()[value-1][hue] holds 10000 x and 10000 y of chroma
// 2, 4, 6 and so on, hue counting 10RP, 2.5R, 5R ... 7.5RP.
//
// Source: Newhall, Nickerson and Judd 1943, J. Opt. Soc. Am. 33(7):385, table
// I, with the extrapolation to colours beyond the optimal ones that the
// Munsell Color Science Laboratory publishes beside it (all.dat).
func renotation() (table [9][40][]float64) {
	for _, line := range readTable("munsell_renotation.csv") {
		f := figures(line) // value, hue, then the pairs
		table[int(f[0])-1][int(f[1]/2.5)] = f[2:]
	}
	return table
}

// renotationLab is the renotation as CIELAB a*, b* under D65, with the grey of
// chroma 0 in front of each row. It is made when it is first needed.
var renotationLab = sync.OnceValue(func() *[9][40][][2]float64 {
	illuminantC := XYZOf(.31006, .31616) // CIE 15
	toD65 := AdaptationBradford(illuminantC, whiteD65)
	var table [9][40][][2]float64
	for i, page := range renotation() {
		y := MunsellLuminance(float64(i + 1))
		for j, xy := range page {
			row := make([][2]float64, 1, 1+len(xy)/2)
			for k := 0; k < len(xy); k += 2 {
				c := XYZOf(xy[k]/1e4, xy[k+1]/1e4)
				lab := XYZ{c.X * y, y, c.Z * y}.Adapt(toD65).Lab()
				row = append(row, [2]float64{lab.A, lab.B})
			}
			table[i][j] = row
		}
	}
	return &table
})
