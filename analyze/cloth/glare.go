package cloth

// A gloss highlight and a burnt-out white figure of a print both stand at the
// top of the scale, and must be treated in opposite ways: the highlight is
// the lamp's and is no part of the cloth's value, the figure is the cloth's
// and leaving it out would darken the mean. They differ at the rim. A
// highlight fades into the cloth over many pixels; a figure ends at an edge.

const (
	rimNear = 2 // pixels from the clipped core where a figure's edge has ended
	rimFar  = 6 // and where a highlight is still fading
	// A core is at least this many pixels wide; less is noise or a thread.
	coreWidth = 5
	// fading is how far the rim's light must stand from the cloth's towards
	// the clipped light for the core to be a highlight, as a share.
	fading = 0.25
	// glossy is how much more light than the cloth a highlight sends at the least. A
	// pale cloth is burnt out where the lamp is a little nearer, and fades too; what
	// is burnt there is its own light, and without it the cloth reads too dark.
	glossy = 1.6
)

// withoutGlare is the piece's weight with its gloss highlights and their
// fading rims left out, and the share of the piece that is left. It is nil
// when what clipped is the cloth's own.
func (p piece) withoutGlare() (weight []float32, left float64) {
	if p.bright == nil {
		return nil, 1
	}
	w, h := p.picture.W, p.picture.H
	weightAt := func(i int) float32 {
		if p.weight == nil {
			return 1
		}
		return p.weight[i]
	}
	// Opened: shrunk and grown again, which takes away all that is narrow.
	open := make([]bool, w*h)
	for i, v := range p.bright {
		open[i] = !(v > 127 && weightAt(i) > .5)
	}
	open = grow(open, w, h, coreWidth/2)
	some := false
	for i := range open {
		open[i] = !open[i]
		some = some || open[i]
	}
	if !some {
		return nil, 1
	}
	core := grow(open, w, h, coreWidth/2)
	near := grow(core, w, h, rimNear)
	far := grow(core, w, h, rimFar)
	wide := grow(core, w, h, 4*rimFar)
	lum := func(i int) float64 { return p.picture.At(i%w, i/w).Y() }
	var coreY, rimY, clothY, coreN, rimN, clothN float64
	for i := range core {
		a := float64(weightAt(i))
		switch {
		case a < .5:
		case core[i]:
			coreY, coreN = coreY+lum(i), coreN+1
		case near[i]:
		case far[i]:
			rimY, rimN = rimY+lum(i), rimN+1
		case !wide[i]:
			clothY, clothN = clothY+lum(i), clothN+1
		}
	}
	if rimN == 0 || clothN < coreN {
		return nil, 1
	}
	coreY, rimY, clothY = coreY/coreN, rimY/rimN, clothY/clothN
	if rimY-clothY < fading*(coreY-clothY) || coreY < glossy*clothY {
		return nil, 1
	}
	weight = make([]float32, w*h)
	var all, rest float64
	for i := range weight {
		a := weightAt(i)
		all += float64(a)
		if !wide[i] {
			weight[i] = a
			rest += float64(a)
		}
	}
	return weight, rest / all
}

// grow is mask widened by r pixels in every direction (a square of 2r+1).
func grow(mask []bool, w, h, r int) []bool {
	across, out := make([]bool, w*h), make([]bool, w*h)
	run := func(dst, src []bool, lines, n, stride, step int) {
		for j := range lines {
			at, last := j*stride, -r-1
			for i := range n {
				if src[at+i*step] {
					last = i
				}
				dst[at+i*step] = i-last <= r
			}
			last = n + r
			for i := n - 1; i >= 0; i-- {
				if src[at+i*step] {
					last = i
				}
				dst[at+i*step] = dst[at+i*step] || last-i <= r
			}
		}
	}
	run(across, mask, h, w, w, 1)
	run(out, across, w, h, 1, w)
	return out
}
