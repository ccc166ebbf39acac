package scraps

import (
	"math"
	"slices"

	"greige/analyze/photo"
)

// A print in which much is of the ground's colour has bites out of its side or
// falls into figures. What lies in the bays of such a part, or between two that
// lie close by, is compared with the open ground itself, seen through windows of
// the same shape all over the photo, and with what lies round the part: cloth
// has another colour than the ground, if only by a little, or is smoother. A
// shadow explains neither; that what lies in a bay is darker or changes more
// across it, a shadow does explain. The limits were set by looking at drawn
// scenes; they have no published source.
const (
	// bayLeast is of how many pixels a bay must be to be told.
	bayLeast = 24
	// bayShare is how much of the hull bays must take up to be asked about.
	bayShare = .08
	// windowsLeast and windowsMost are through how many windows the ground is
	// seen.
	windowsLeast = 12
	windowsMost  = 40
	// baySigmas is how far from what the windows show a bay must be, in
	// robust standard deviations of theirs; and at least bayColour in a* and b*,
	// bayLighter in L*, baySmoother in the logarithm of the grain.
	baySigmas   = 6
	bayColour   = 1
	bayLighter  = 1
	baySmoother = .55
	smoothTimes = 4
	// strayTimes is how much farther off than the ground round the part a bay's
	// colour must be.
	strayTimes = 2
	// fragmentsShape is how much of their common hull two fragments fill.
	fragmentsShape = .4
)

// complete finds cloth of the ground's colour in the bays of parts and between
// them, and paints it into things. It tells whether there was any.
func (s *search) complete(things *mask, ps []part, label []int32) bool {
	type candidate struct {
		part
		shape float64 // how much of its hull it must fill
	}
	var tried []candidate
	strange := s.strange(things)
	if !slices.Contains(strange.in, true) {
		return false
	}
	try := func(p part, shape float64) {
		if strange.any(p.x0, p.y0, p.x1, p.y1) {
			tried = append(tried, candidate{p, shape})
		}
	}
	for _, p := range ps {
		try(p, 0)
	}
	for _, n := range s.neighbours(ps, label, int(mergeGap*float64(max(s.w, s.h))+.5)) {
		a, b := &ps[n.a], &ps[n.b]
		if float64(n.gap) <= 2+gapShare*math.Sqrt(float64(min(len(a.px), len(b.px)))) {
			try(joined(a, b), fragmentsShape)
		}
	}
	if len(tried) == 0 {
		return false
	}
	beside := things.grown(s.reach)
	open := newMask(s.w, s.h)
	for i, c := range s.class {
		open.in[i] = !beside.in[i] && c != other && !s.known(i)
	}
	bays := make([][]int32, len(tried))
	photo.Bands(len(tried), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			bays[k] = s.bays(&tried[k].part, tried[k].shape, label, open)
		}
	})
	found := false
	for _, px := range bays {
		for _, i := range px {
			things.in[i] = true
			found = true
		}
	}
	return found
}

// strange are the blocks of blockSide x blockSide pixels, away from things,
// that may be another cloth than the ground, at a first look; on a grained
// ground all may be.
func (s *search) strange(things *mask) *mask {
	const few = 6 // pixels
	m := newMask((s.w+blockSide-1)/blockSide, (s.h+blockSide-1)/blockSide)
	near := things.grown(2)
	photo.Bands(m.h, 8, func(j0, j1 int) {
		for j := j0; j < j1; j++ {
			for i := range m.w {
				var n, l, a, b float64
				for y := j * blockSide; y < min((j+1)*blockSide, s.h); y++ {
					for k := y*s.w + i*blockSide; k < y*s.w+min((i+1)*blockSide, s.w); k++ {
						if !near.in[k] && s.class[k] != other {
							n, l, a, b = n+1, l+float64(s.dl[k]), a+float64(s.da[k]), b+float64(s.db[k])
						}
					}
				}
				m.in[j*m.w+i] = n >= few && (s.sd[0] >= hides || l > .5*bayLighter*n || beyondTint(l, a, b) > .5*bayColour*n)
			}
		}
	})
	return m
}

const blockSide = 4

// any tells whether a block of m lies among the pixels from (x0, y0) to (x1, y1).
func (m *mask) any(x0, y0, x1, y1 int) bool {
	for y := y0 / blockSide; y <= (y1-1)/blockSide; y++ {
		if slices.Contains(m.in[y*m.w+x0/blockSide:y*m.w+(x1-1)/blockSide+1], true) {
			return true
		}
	}
	return false
}

// beyondTint is how far a and b stand off the ground beyond what the light of
// the room can do in a shadow as deep as l says.
func beyondTint(l, a, b float64) float64 {
	tint := tints * math.Abs(l)
	return math.Hypot(max(math.Abs(a)-tint, 0), max(math.Abs(b)-tint, 0))
}

// bays are the pixels in the bays of a part that are cloth.
func (s *search) bays(p *part, shape float64, label []int32, open *mask) (px []int32) {
	m, x0, y0 := p.fill(s.w, aroundTo+1)
	if within, all := m.count(), m.hull(); within > (1-bayShare)*all || within < shape*all {
		return nil
	}
	// At the edges colours mix.
	hull := m.hullMask()
	inner, near := hull.shrunk(1), m.grown(1)
	at := func(x, y int) (int32, bool) {
		x, y = x+x0, y+y0
		return int32(y*s.w + x), x >= 0 && y >= 0 && x < s.w && y < s.h
	}
	bays := newMask(m.w, m.h)
	for i := range bays.in {
		if inner.in[i] && !near.in[i] {
			j, ok := at(i%m.w, i/m.w)
			bays.in[i] = ok && label[j] == 0 && s.class[j] != other
		}
	}
	const edge = 2
	around := s.around(hull, x0, y0, label)
	for _, b := range bays.opened(1).list(bayLeast) {
		bay, u, v := b.in(m.w, edge)
		if !s.isCloth(bay, x0+u, y0+v, open, around) {
			continue
		}
		for i, in := range bay.grown(edge).in { // with its edges
			if x, y := i%bay.w+u, i/bay.w+v; in && x >= 0 && y >= 0 && x < m.w && y < m.h && hull.in[y*m.w+x] {
				if j, ok := at(x, y); ok {
					px = append(px, j)
				}
			}
		}
	}
	return px
}

// aroundFrom and aroundTo are how far outside a hull the ground round it lies,
// in pixels.
const aroundFrom, aroundTo = 3, 8

// around is how the ground round m, whose first pixel lies at (x0, y0), stands
// off; nil where there is too little of it. Where the light was not told well, it
// does.
func (s *search) around(m *mask, x0, y0 int, label []int32) []float64 {
	const few = 40 // pixels
	var off [yellower + 1][]float64
	s.eachOpen(m.bits().ring(aroundFrom, aroundTo), x0, y0, label, func(i int) {
		off[lighter] = append(off[lighter], float64(s.dl[i]))
		off[redder] = append(off[redder], float64(s.da[i]))
		off[yellower] = append(off[yellower], float64(s.db[i]))
	})
	if len(off[0]) < few {
		return nil
	}
	return []float64{median(off[lighter]), median(off[redder]), median(off[yellower])}
}

// isCloth tells whether the pixels of m, whose first lies at (x0, y0), do not
// look as the open ground does through windows of their shape, nor as what lies
// around.
func (s *search) isCloth(m *mask, x0, y0 int, open *mask, around []float64) bool {
	var px []int32
	for i, in := range m.in {
		if in {
			px = append(px, int32(i))
		}
	}
	bay := s.surface(m, px, x0, y0)
	coloured, light := false, false
	if around != nil {
		least := max(bayColour, strayTimes*math.Hypot(around[redder], around[yellower]))
		coloured = beyondTint(bay[lighter], bay[redder]-around[redder], bay[yellower]-around[yellower]) >= least
		light = bay[lighter]-max(around[lighter], 0) >= bayLighter
	}
	if !coloured && !light && s.sd[0] < hides {
		return false // and nothing is smoother than a plain ground
	}
	var seen [surfaces][]float64
	for _, at := range s.windows(m, px, open) {
		for k, v := range s.surface(m, px, at[0], at[1]) {
			seen[k] = append(seen[k], v)
		}
	}
	if len(seen[0]) < windowsLeast {
		return false
	}
	var off, sigmas [surfaces]float64
	for k, v := range bay {
		mid := median(slices.Clone(seen[k]))
		for i := range seen[k] {
			seen[k][i] = math.Abs(seen[k][i] - mid)
		}
		off[k] = v - mid
		sigmas[k] = off[k] / (1.4826*median(seen[k]) + surfaceLeast[k])
	}
	switch {
	case coloured && beyondTint(bay[lighter], off[redder], off[yellower]) >= bayColour && math.Hypot(sigmas[redder], sigmas[yellower]) > baySigmas:
	case light && off[lighter] >= bayLighter && sigmas[lighter] > baySigmas:
	case s.ink == nil && off[grain] < -baySmoother && sigmas[grain] < -smoothTimes && sigmas[mottle] < -.5*smoothTimes:
		// Between the lines of a mat the ground is smoother than with them.
	default:
		return false
	}
	return true
}

// What is told of a surface: how it stands off the ground in L*, a* and b*, and
// the logarithms of the mean change of L* from a pixel to the next and to one
// farther away.
const (
	lighter = iota
	redder
	yellower
	grain
	mottle
	surfaces
)

// surfaceLeast are the least standard deviations of that.
var surfaceLeast = [surfaces]float64{.1, .1, .1, .03, .03}

// surface looks at the pixels px of m, where its first lies at (x0, y0).
func (s *search) surface(m *mask, px []int32, x0, y0 int) (f [surfaces]float64) {
	const farther = 4
	gl := 0.
	var changes, pairs [2]float64
	for _, i := range px {
		x, y := int(i)%m.w, int(i)/m.w
		j := (y+y0)*s.w + x + x0
		f[lighter] += float64(s.dl[j])
		f[redder] += float64(s.da[j])
		f[yellower] += float64(s.db[j])
		gl += float64(s.gl[j])
		for k, d := range [2]int{1, farther} {
			if x+d < m.w && m.in[int(i)+d] {
				changes[k] += math.Abs(float64(s.dl[j+d] - s.dl[j]))
				pairs[k]++
			}
			if y+d < m.h && m.in[int(i)+d*m.w] {
				changes[k] += math.Abs(float64(s.dl[j+d*s.w] - s.dl[j]))
				pairs[k]++
			}
		}
	}
	n := float64(len(px))
	for k := lighter; k <= yellower; k++ {
		f[k] /= n
	}
	// In less light all changes are smaller.
	light := gl / max(gl+n*f[lighter], 1)
	for k := range changes {
		f[grain+k] = math.Log(changes[k]/max(pairs[k], 1)*light + .02)
	}
	return f
}

// windows are places where the first pixel of m can lie so that its pixels px
// show nearly nothing but open ground, from all over the photo.
func (s *search) windows(m *mask, px []int32, open *mask) (at [][2]int) {
	const outside = .05 // may be no open ground
	most := int(outside * float64(len(px)))
	step := max(3, int(math.Sqrt(float64(s.w*s.h)/2500)))
	there := make([]int, len(px)) // as pixels of the picture
	for k, i := range px {
		there[k] = int(i)/m.w*s.w + int(i)%m.w
	}
	for y := 0; y+m.h < s.h; y += step {
		for x := 0; x+m.w < s.w; x += step {
			out, in := 0, open.in[y*s.w+x:]
			for _, i := range there {
				if !in[i] {
					if out++; out > most {
						break
					}
				}
			}
			if out <= most {
				at = append(at, [2]int{x, y})
			}
		}
	}
	every := max(1, len(at)/windowsMost)
	for i := range len(at) / every {
		at[i] = at[i*every]
	}
	return at[:len(at)/every]
}
