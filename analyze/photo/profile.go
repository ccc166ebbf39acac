package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/kovidgoyal/imaging/prism/meta/icc"

	"greige/colorspace"
)

var errProfile = errors.New(brokenProfile)

// profileSpace makes a space of an embedded ICC profile for a picture of 1, 3
// or 4 channels. The rendering is relative colorimetric: the profile's white
// is white. Errors are clauses for a note.
func profileSpace(data []byte, channels int) (sp *space, err error) {
	defer func() {
		// The reader is another's code and the profile is anybody's.
		if recover() != nil {
			sp, err = nil, errProfile
		}
	}()
	if !soundProfile(data) {
		return nil, errProfile
	}
	p, err := icc.DecodeProfile(bytes.NewReader(data))
	if err != nil {
		return nil, errProfile
	}
	takes := map[icc.ColorSpace]int{icc.ColorSpaceGray: 1, icc.ColorSpaceRGB: 3, icc.ColorSpaceCMYK: 4}[p.Header.DataColorSpace]
	// A grey picture with an RGB profile is met with: grey is r = g = b.
	if takes != channels && !(takes == 3 && channels == 1) {
		return nil, fmt.Errorf("the colour profile is for another kind of picture (%s) and was left out", p.Header.DataColorSpace)
	}
	toPCS, err := p.CreateTransformerToPCS(icc.RelativeColorimetricRenderingIntent, takes, true)
	if err != nil {
		return nil, errProfile
	}
	t := &transform{pipeline: toPCS, channels: takes, lab: p.Header.ProfileConnectionSpace == icc.ColorSpaceLab}
	sp = &space{}
	switch {
	case takes == 1 && t.grey(sp), takes == 3 && t.additive(sp), takes != 1 && t.whole(sp):
		return sp, nil
	}
	return nil, errProfile
}

// soundProfile checks that a profile's parts lie inside it and that none of
// its curves claims more points than it has bytes: the reader takes memory
// for what a profile claims before it looks for it. Source: ICC.1:2022, 7.2,
// 7.3 and 10.6.
func soundProfile(b []byte) bool {
	if len(b) < 132 || len(b) > manyProfileBytes || string(b[36:40]) != "acsp" {
		return false
	}
	n := int64(binary.BigEndian.Uint32(b[128:]))
	start := 132 + 12*n
	if n > 200 || start > int64(len(b)) {
		return false
	}
	for i := range n {
		e := b[132+12*i:]
		off, size := int64(binary.BigEndian.Uint32(e[4:])), int64(binary.BigEndian.Uint32(e[8:]))
		if off < start || size > int64(len(b))-off {
			return false
		}
		tag := b[off : off+size]
		if len(tag) >= 4 && (string(tag[:4]) == "curv" || string(tag[:4]) == "mAB ") && !soundCurves(tag) {
			return false
		}
	}
	return true
}

// soundCurves looks at all that may be a sampled curve in a tag of numbers.
func soundCurves(tag []byte) bool {
	for {
		i := bytes.Index(tag, []byte("curv"))
		if i < 0 {
			return true
		}
		tag = tag[i:]
		if len(tag) < 12 {
			return true
		}
		if int64(binary.BigEndian.Uint32(tag[8:])) > int64(len(tag)-12)/2 {
			return false
		}
		tag = tag[4:]
	}
}

// transform is a profile's way to XYZ under D50.
type transform struct {
	pipeline *icc.Pipeline
	channels int
	lab      bool
	in, out  [8]float64
}

// xyz converts one code. Not for two goroutines at once.
func (t *transform) xyz(code *[4]float64) [3]float64 {
	var x, y, z float64
	switch t.channels {
	case 3:
		x, y, z = t.pipeline.Transform(code[0], code[1], code[2])
	default:
		copy(t.in[:], code[:t.channels])
		t.pipeline.TransformGeneral(t.out[:], t.in[:])
		x, y, z = t.out[0], t.out[1], t.out[2]
	}
	if t.lab {
		// CIELAB is relative to its white: scale to that of the profile.
		w, w50 := colorspace.WhiteD65(), colorspace.WhiteD50()
		v := colorspace.Lab{L: x, A: y, B: z}.XYZ()
		x, y, z = v.X*w50.X/w.X, v.Y, v.Z*w50.Z/w.Z
	}
	return [3]float64{x, y, z}
}

// grey makes sp of a profile of one channel, whose light is all of one colour.
func (t *transform) grey(sp *space) bool {
	y := func(v float64) float64 { return t.xyz(&[4]float64{v})[1] }
	white := y(1)
	if !(white > .2 && white < 2) {
		return false
	}
	for v := 0.0; v <= 1; v += 1.0 / 64 {
		if l := y(v); !(l > -.1 && l < 2) {
			return false
		}
	}
	f := func(v float64) float64 { return y(v) / white }
	sp.curve, sp.alike, sp.matrix = [3]func(float64) float64{f, f, f}, true, identity
	return true
}

// additive makes sp of a profile in which each channel adds light of its own,
// by probing: the light of any mixture must be the sum of its parts'.
func (t *transform) additive(sp *space) bool {
	black := t.xyz(&[4]float64{})
	var columns [3][3]float64
	for c := range 3 {
		var code [4]float64
		code[c] = 1
		columns[c] = minus(t.xyz(&code), black)
		if !(dot(columns[c], columns[c]) > 1e-6) {
			return false
		}
	}
	// The share of a channel's full light that code v gives.
	curve := func(c int) func(float64) float64 {
		return func(v float64) float64 {
			var code [4]float64
			code[c] = v
			return dot(minus(t.xyz(&code), black), columns[c]) / dot(columns[c], columns[c])
		}
	}
	curves := [3]func(float64) float64{curve(0), curve(1), curve(2)}
	const steps = 6
	var probe [3][steps + 1]float64
	for c := range probe {
		for i := range probe[c] {
			probe[c][i] = curves[c](float64(i) / steps)
		}
	}
	for i := range (steps + 1) * (steps + 1) * (steps + 1) {
		n := [3]int{i % (steps + 1), i / (steps + 1) % (steps + 1), i / (steps + 1) / (steps + 1)}
		got := t.xyz(&[4]float64{float64(n[0]) / steps, float64(n[1]) / steps, float64(n[2]) / steps})
		for k := range 3 {
			want := black[k]
			for c := range 3 {
				want += probe[c][n[c]] * columns[c][k]
			}
			if !(math.Abs(got[k]-want) < 2e-5) { // NaN too
				return false
			}
		}
	}
	var m colorspace.Matrix
	for c := range 3 {
		for k := range 3 {
			m[k][c] = columns[c][k]
		}
	}
	toSRGB := fromXYZ50()
	offset := toSRGB.Apply(black)
	m, ok := whiteIsWhite(toSRGB.Mul(m), offset)
	if !ok {
		return false
	}
	sp.curve, sp.matrix, sp.offset = curves, m, offset
	sp.alike = probe[0] == probe[1] && probe[1] == probe[2]
	return true
}

func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64      { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// whole makes sp of any other profile: every pixel goes the profile's own way.
func (t *transform) whole(sp *space) bool {
	white := [4]float64{1, 1, 1}
	if t.channels == 4 {
		white = [4]float64{}
	}
	if y := t.xyz(&white)[1]; !(y > .2 && y < 2) {
		return false
	}
	sp.matrix = fromXYZ50()
	sp.converter = func() func(*[4]float64) [3]float64 {
		own := *t
		return own.xyz
	}
	return true
}
