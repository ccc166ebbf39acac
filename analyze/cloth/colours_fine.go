package cloth

import (
	"math"
	"math/bits"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"greige/analyze/fit"
	"greige/colorspace"
)

// Figures that are two to four pixels wide are nowhere as dark or as bright
// in the picture as their ink is: lens, pixels and file blur them. Their inks
// follow from a model of the blur. On a raster finer than the pixels,
//
//   - the picture is sharpened (van Cittert's iteration; Jansson 1997,
//     Deconvolution of Images and Spectra, ch. 4) and each point given to the
//     nearest ink, so that figures end where the blur is half way;
//   - the points' areas are blurred again: now each pixel should be the light
//     of the inks by those areas, which gives the inks by least squares;
//   - with better inks the figures' outlines are better: twice over.
//
// How wide the blur is shows in what remains unexplained; it is searched for.

const (
	fineSide = 24 // pixels of a tile, without its rim
	fineRim  = 5
	fineFull = fineSide + 2*fineRim
	finePer  = 3 // points per pixel, along a side
	fineAll  = fineFull * finePer
	// Inks that one tile can hold.
	fineInks = 8
	// Pixels in the middle of its figures that are looked at for each ink, and
	// tiles for all of them and for finding the blur.
	fineEnough    = 250
	fineMost      = 14
	fineBlurTiles = 4
	// Rounds of sharpening. More bring out noise.
	fineSharpen = 6
	fineRounds  = 2
	// An ink stays when the tiles that show most of it, so many, are explained
	// better with it: without it the rest rises by that much.
	fineLook   = 3
	fineMissed = 2.5
)

// fineTile is a small part of the picture.
type fineTile struct {
	x, y  int // its first pixel, without the rim
	light [3 * fineFull * fineFull]float32
	set   [fineFull * fineFull]uint32 // inks that may lie in each pixel
	sharp [3 * fineAll * fineAll]float32
	blur  float64 // that sharp was made for
}

// fineView is a tile seen as made of certain inks.
type fineView struct {
	*fineTile
	allowed uint32 // inks, as bits

	inks  [fineInks]uint8 // that lie in it
	count int
	area  [fineInks * fineSide * fineSide]float32 // their areas in each pixel
}

// fineTiles are the tiles of a picture, made when they are first asked for.
type fineTiles struct {
	f            *inkField
	m            *mixture
	across, down int
	count        [][]int // pixels of each tile that show an ink
	made         []*fineTile
}

// sharpenInks corrects the inks of thin figures, and leaves out those that
// the picture can do without.
func (f *inkField) sharpenInks(inks []ink) ([]ink, *mixture) {
	tiles := f.newFineTiles(inks, f.unmix(inks))
	allowed, shades := f.shades(inks)
	thin := thinInks(inks)
	for t := firstTwin(inks, allowed); t >= 0; t = firstTwin(inks, allowed) {
		allowed &^= 1 << t
	}
	show := tiles.showing(inks, allowed)
	edges := show
	if len(edges) == 0 {
		edges = tiles.showing(inks, thin)
	}
	blur := f.findBlur(edges[:min(len(edges), fineBlurTiles)], inks, allowed)
	base, _ := f.fit(views(show, allowed), inks, thin, blur)
	for _, k := range shades {
		if tiles.missed(k, base, allowed|1<<k, 1<<k, blur) > fineMissed {
			allowed |= 1 << k
		}
	}
	for {
		show = tiles.showing(inks, allowed)
		better, _ := f.fit(views(show, allowed), inks, thin, blur)
		idle := tiles.idle(better, allowed, blur)
		if idle < 0 {
			idle = firstTwin(better, allowed)
		}
		if idle < 0 {
			inks = better
			break
		}
		allowed &^= 1 << idle
	}
	var out []ink
	for i, k := range inks {
		if allowed>>i&1 == 1 {
			out = append(out, k)
		}
	}
	f.tagAll(out)
	return out, f.unmix(out)
}

// findBlur is the standard deviation of the blur in pixels, beside the pixels'
// own size.
func (f *inkField) findBlur(tiles []*fineTile, inks []ink, allowed uint32) float64 {
	// From a photo reduced to a quarter to one that is not quite sharp.
	blurs := [...]float64{.28, .4, .56, .8, 1.13}
	var miss [len(blurs)]float64
	best := 0
	for i, s := range blurs {
		_, miss[i] = f.fit(views(tiles, allowed), inks, thinInks(inks), s)
		if miss[i] < miss[best] {
			best = i
		}
	}
	if best == 0 || best == len(blurs)-1 {
		return blurs[best]
	}
	// The lowest point of a parabola through three.
	a, b, c := miss[best-1], miss[best], miss[best+1]
	return blurs[best] * math.Pow(blurs[best+1]/blurs[best], (a-c)/(a-2*b+c)/2)
}

// idle is a thin ink without which its own places are explained as well, or
// nearly: a shade of another ink's blurred rim. It is the one that is missed
// least, or -1.
func (g *fineTiles) idle(inks []ink, allowed uint32, blur float64) int {
	idle, least := -1, fineMissed
	for k := range inks {
		if inks[k].thin() && allowed>>k&1 == 1 {
			if m := g.missed(k, inks, allowed, 0, blur); m <= least {
				idle, least = k, m
			}
		}
	}
	return idle
}

// missed is by how much the rest that is left unexplained, in the places of
// ink k, grows when the picture has to do without it: 1 is not at all.
func (g *fineTiles) missed(k int, inks []ink, allowed, free uint32, blur float64) float64 {
	const part = .2 // of a pixel that is one of its places
	most := g.most(k, fineLook)
	with, without := views(most, allowed), views(most, allowed&^(1<<k))
	has, _ := g.f.fit(with, inks, free, blur)
	lacks, _ := g.f.fit(without, inks, 0, blur)
	var a, b float64
	for i, v := range with {
		place := slices.Index(v.inks[:v.count], uint8(k))
		if place < 0 {
			continue
		}
		for n := range fineSide * fineSide {
			if v.area[n*fineInks+place] > part {
				a += g.f.missAt(v, has, n)
				b += g.f.missAt(without[i], lacks, n)
			}
		}
	}
	return b / max(a, 1e-9)
}

// roomForTiles tells whether the picture holds a tile at all.
func (f *inkField) roomForTiles() bool { return f.w-2 >= fineSide && f.h-2 >= fineSide }

// newFineTiles divides the picture into tiles. m says which inks may lie
// where.
func (f *inkField) newFineTiles(inks []ink, m *mixture) *fineTiles {
	g := &fineTiles{f: f, m: m, across: (f.w - 2) / fineSide, down: (f.h - 2) / fineSide}
	g.count = make([][]int, g.across*g.down)
	g.made = make([]*fineTile, len(g.count))
	all := make([]int, len(g.count)*len(inks))
	for i := range g.count {
		g.count[i] = all[i*len(inks) : (i+1)*len(inks)]
	}
	for y := 1; y <= g.down*fineSide; y++ {
		for x := 1; x <= g.across*fineSide; x++ {
			if t := f.tag[y*f.w+x]; t > 0 {
				g.count[(y-1)/fineSide*g.across+(x-1)/fineSide][t-1] += f.step
			}
		}
	}
	return g
}

// order is the tiles that show an ink, most of it first.
func (g *fineTiles) order(k int) []int {
	var order []int
	for i := range g.count {
		if g.count[i][k] > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return g.count[b][k] - g.count[a][k] })
	return order
}

// most are at most n tiles that show most of an ink.
func (g *fineTiles) most(k, n int) []*fineTile {
	var out []*fineTile
	for _, i := range g.order(k) {
		if len(out) < n {
			out = append(out, g.tile(i))
		}
	}
	return out
}

// showing are tiles that show enough of each of the allowed thin inks: some
// of each before much of any.
func (g *fineTiles) showing(inks []ink, allowed uint32) []*fineTile {
	taken := make([]bool, len(g.count))
	have := make([]int, len(inks))
	var out []*fineTile
	for _, enough := range []int{1, fineEnough} {
		for k := range inks {
			if !inks[k].thin() || allowed>>k&1 == 0 {
				continue
			}
			for _, i := range g.order(k) {
				if have[k] >= enough || len(out) >= fineMost {
					break
				}
				if taken[i] {
					continue
				}
				taken[i] = true
				for l, n := range g.count[i] {
					have[l] += n
				}
				out = append(out, g.tile(i))
			}
		}
	}
	return out
}

// tile is the n-th tile in reading order.
func (g *fineTiles) tile(n int) *fineTile {
	if t := g.made[n]; t != nil {
		return t
	}
	f := g.f
	t := &fineTile{x: n%g.across*fineSide + 1, y: n/g.across*fineSide + 1}
	at := func(x, y int) int { return min(max(y, 0), f.h-1)*f.w + min(max(x, 0), f.w-1) }
	for j := range fineFull {
		for i := range fineFull {
			px, py := t.x+i-fineRim, t.y+j-fineRim
			n := j*fineFull + i
			o := 3 * at(px, py)
			copy(t.light[3*n:3*n+3], f.lin[o:o+3])
			for b := -1; b <= 1; b++ {
				for a := -1; a <= 1; a++ {
					p := g.m.pair[at(px+a, py+b)]
					t.set[n] |= 1<<p[0] | 1<<p[1]
				}
			}
		}
	}
	g.made[n] = t
	return t
}

// views are the tiles as made of the allowed inks.
func views(tiles []*fineTile, allowed uint32) []*fineView {
	out := make([]*fineView, len(tiles))
	for i, t := range tiles {
		out[i] = &fineView{fineTile: t, allowed: allowed}
	}
	return out
}

// may are the inks that may lie in a pixel: those that were found about it.
// Where one of them is not allowed, any other may lie there.
func (v *fineView) may(pixel int) uint32 {
	s := v.set[pixel]
	if s&^v.allowed != 0 || s == 0 {
		return v.allowed
	}
	return s
}

// fit finds the free inks for a blur of the given standard deviation in
// pixels while the others stay, and the sum of squares that all together leave
// unexplained, in units of the noise.
func (f *inkField) fit(tiles []*fineView, inks []ink, free uint32, blur float64) ([]ink, float64) {
	inks = slices.Clone(inks)
	kernel := fineKernel(blur)
	for range fineRounds {
		sideBySide(len(tiles), func(i int) {
			tiles[i].sharpen(kernel, blur)
			tiles[i].measure(inks, kernel)
		})
		if free == 0 {
			break
		}
		f.leastSquares(tiles, inks, free)
	}
	all := 0.0
	for _, v := range tiles {
		for n := range fineSide * fineSide {
			all += f.missAt(v, inks, n)
		}
	}
	return inks, all
}

// missAt is the sum of squares that the inks leave unexplained in pixel n of
// a view, in units of the noise.
func (f *inkField) missAt(v *fineView, inks []ink, n int) (sum float64) {
	p, weight, ok := f.seen(v.fineTile, n)
	if !ok {
		return 0
	}
	for c := range p {
		d := p[c]
		for k, a := range v.area[n*fineInks:][:v.count] {
			d -= float64(a) * inks[v.inks[k]].lin[c]
		}
		sum += weight[c] * d * d
	}
	return sum
}

// seen is the light of pixel n of a tile and how much each of its components
// counts; not ok on the rim of the piece.
func (f *inkField) seen(t *fineTile, n int) (p, weight [3]float64, ok bool) {
	at := (t.y+n/fineSide)*f.w + t.x + n%fineSide
	if !f.core[at] {
		return p, weight, false
	}
	noise := f.lightNoise[noiseBin(int32(f.lab[3*at]))]
	for c := range p {
		v := f.lin[3*at+c]
		p[c] = float64(v)
		s := float64(linearNoise(v, noise)) + .002
		weight[c] = 1 / (s * s)
	}
	return p, weight, true
}

// sideBySide calls work(i) for 0 <= i < n on all processors. What the calls
// write must not overlap.
func sideBySide(n int, work func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	wait.Wait()
}

// leastSquares takes the inks that explain the light of the tiles best; those
// of larger figures are known better from there, and stay.
func (f *inkField) leastSquares(tiles []*fineView, inks []ink, free uint32) {
	e := newInkEquations(inks, free)
	for _, t := range tiles {
		for n := range fineSide * fineSide {
			if p, weight, ok := f.seen(t.fineTile, n); ok {
				e.add(t, n, p, weight)
			}
		}
	}
	lin, err := e.solve()
	if err != nil {
		return // light that is no number says nothing of the inks
	}
	for n := range inks {
		if free>>n&1 == 1 {
			inks[n].set(lin[n])
		}
	}
}

// inkEquations are the normal equations for the light of the free inks, a system
// for each component. A pixel holds few of the inks, so unlike fit.Normal's rows it
// is added by those alone.
type inkEquations struct {
	inks          []ink
	free          uint32
	normal, right [3][]float64
}

func newInkEquations(inks []ink, free uint32) *inkEquations {
	e, k := &inkEquations{inks: inks, free: free}, len(inks)
	for c := range e.normal {
		e.normal[c], e.right[c] = make([]float64, k*k), make([]float64, k)
	}
	return e
}

// add adds pixel n of a view, its light p and how much each component counts.
func (e *inkEquations) add(t *fineView, n int, p, weight [3]float64) {
	k, free := len(e.inks), e.free
	area := t.area[n*fineInks:][:t.count]
	for c := range p {
		normal, right := e.normal[c], e.right[c]
		rest := p[c]
		for i, a := range area {
			if o := t.inks[i]; free>>o&1 == 0 {
				rest -= float64(a) * e.inks[o].lin[c]
			}
		}
		for i, a := range area {
			o := int(t.inks[i])
			if a == 0 || free>>o&1 == 0 {
				continue
			}
			right[o] += weight[c] * float64(a) * rest
			for j, b := range area {
				if l := int(t.inks[j]); free>>l&1 == 1 {
					normal[o*k+l] += weight[c] * float64(a) * float64(b)
				}
			}
		}
	}
}

// solve is the light of each ink; what is hardly seen stays where it is. It spoils
// the equations. The error is fit.ErrSingular, where a pixel is no number.
func (e *inkEquations) solve() ([]colorspace.Linear, error) {
	k := len(e.inks)
	lin := make([]colorspace.Linear, k)
	for c, normal := range e.normal {
		right := e.right[c]
		for n := range k {
			hold := 1e-3*normal[n*k+n] + 1e-9
			normal[n*k+n] += hold
			right[n] += hold * e.inks[n].lin[c]
		}
		factors, err := fit.NewCholesky(normal, k)
		if err != nil {
			return nil, err
		}
		for n, v := range factors.Solve(right) {
			lin[n][c] = min(max(v, .002), 1.1)
		}
	}
	return lin, nil
}

// fineKernel is a Gaussian and the pixel's own square, on the fine raster: how
// much each point adds to a pixel, along one axis.
func fineKernel(blur float64) []float32 {
	r := min(int(math.Ceil((2.6*blur+.5)*finePer)), fineRim*finePer)
	k := make([]float64, 2*r+1)
	below := func(x float64) float64 { return .5 * (1 + math.Erf(x/blur/math.Sqrt2)) }
	sum := 0.0
	for i := range k {
		d := float64(i-r) / finePer
		k[i] = below(d+.5) - below(d-.5)
		sum += k[i]
	}
	out := make([]float32, len(k))
	for i := range k {
		out[i] = float32(k[i] / sum)
	}
	return out
}

// sharpen undoes the blur on the fine raster: what the sharpened picture,
// blurred again, lacks is added to it, several times.
func (t *fineTile) sharpen(kernel []float32, blur float64) {
	if t.blur == blur {
		return
	}
	t.blur = blur
	clear(t.sharp[:])
	lack := slices.Clone(t.light[:])
	wide := make([]float32, 3*fineFull*fineAll)
	r := len(kernel) / 2
	for round := 0; ; round++ {
		t.spreadOut(lack, wide)
		if round == fineSharpen {
			return
		}
		for j := range fineAll {
			row := t.sharp[3*fineAll*j : 3*fineAll*(j+1)]
			for i := range fineFull {
				middle := i*finePer + finePer/2
				var a, b, c float32
				for n, w := range kernel {
					o := 3 * min(max(middle+n-r, 0), fineAll-1)
					a, b, c = a+w*row[o], b+w*row[o+1], c+w*row[o+2]
				}
				o := 3 * (j*fineFull + i)
				wide[o], wide[o+1], wide[o+2] = a, b, c
			}
		}
		for j := range fineFull {
			out := lack[3*fineFull*j : 3*fineFull*(j+1)]
			copy(out, t.light[3*fineFull*j:])
			middle := j*finePer + finePer/2
			for n, w := range kernel {
				in := wide[3*fineFull*min(max(middle+n-r, 0), fineAll-1):][:len(out)]
				for i, v := range in {
					out[i] -= w * v
				}
			}
		}
	}
}

// cubic are the weights of four neighbours at the points between two of them
// (Keys 1981, IEEE Trans. ASSP 29:1153, a = -1/2).
var cubic = func() (w [finePer][4]float32) {
	for i := range w {
		t := float64(i-finePer/2) / finePer
		if t < 0 {
			t++
		}
		for j, v := range [4]float64{-t + 2*t*t - t*t*t, 2 - 5*t*t + 3*t*t*t, t + 4*t*t - 3*t*t*t, -t*t + t*t*t} {
			w[i][j] = float32(v / 2)
		}
	}
	return w
}()

// spreadOut adds a picture of the tile's pixels, interpolated, to its fine
// raster. wide is room to work in.
func (t *fineTile) spreadOut(pixels, wide []float32) {
	first := func(i, s int) int { // of the four neighbours
		if s < finePer/2 {
			return i - 2
		}
		return i - 1
	}
	for j := range fineFull {
		for s := range finePer {
			out := wide[3*fineFull*(j*finePer+s):][:3*fineFull]
			clear(out)
			for n, w := range cubic[s] {
				in := pixels[3*fineFull*min(max(first(j, s)+n, 0), fineFull-1):][:len(out)]
				for i, v := range in {
					out[i] += w * v
				}
			}
		}
	}
	for j := range fineAll {
		in, out := wide[3*fineFull*j:3*fineFull*(j+1)], t.sharp[3*fineAll*j:3*fineAll*(j+1)]
		for i := range fineFull {
			for s := range finePer {
				o := 3 * (i*finePer + s)
				for n, w := range cubic[s] {
					p := 3 * min(max(first(i, s)+n, 0), fineFull-1)
					out[o] += w * in[p]
					out[o+1] += w * in[p+1]
					out[o+2] += w * in[p+2]
				}
			}
		}
	}
}

// measure gives each point to the nearest of the inks that may lie there, and
// sums up the areas that every pixel sees of them.
func (t *fineView) measure(inks []ink, kernel []float32) {
	var light [maxInks + 1][3]float32
	for i, k := range inks {
		light[i] = [3]float32{float32(k.lin[0]), float32(k.lin[1]), float32(k.lin[2])}
	}
	nearest := func(point int, set uint32) uint8 {
		p := t.sharp[3*point:][:3]
		best, near := 0, float32(math.Inf(1))
		for ; set != 0; set &= set - 1 {
			k := bits.TrailingZeros32(set)
			a, b, c := p[0]-light[k][0], p[1]-light[k][1], p[2]-light[k][2]
			if d := a*a + b*b + c*c; d < near {
				best, near = k, d
			}
		}
		return uint8(best)
	}
	points := make([]uint8, fineAll*fineAll)
	for j := range fineAll {
		for i := range fineAll {
			n := j*fineAll + i
			points[n] = nearest(n, t.may(j/finePer*fineFull+i/finePer))
		}
	}
	points = withoutSeams(points, nearest)
	var place [maxInks + 1]uint8 // in t.inks, + 1
	t.count = 0
	for i, k := range points {
		if place[k] == 0 {
			if t.count == fineInks {
				place[k] = 1 // a tile of so many inks is rare
			} else {
				t.inks[t.count] = k
				t.count++
				place[k] = uint8(t.count)
			}
		}
		points[i] = place[k] - 1
	}
	r := len(kernel) / 2
	across := make([]float32, fineInks*fineSide*fineAll)
	for j := range fineAll {
		for i := range fineSide {
			from := (i+fineRim)*finePer + finePer/2 - r
			out := across[fineInks*(j*fineSide+i):][:fineInks]
			for n, w := range kernel {
				out[points[j*fineAll+from+n]] += w
			}
		}
	}
	clear(t.area[:])
	for j := range fineSide {
		from := (j+fineRim)*finePer + finePer/2 - r
		out := t.area[fineInks*fineSide*j:][:fineInks*fineSide]
		for n, w := range kernel {
			in := across[fineInks*fineSide*(from+n):][:len(out)]
			for i, v := range in {
				out[i] += w * v
			}
		}
	}
}

// noInk is no ink's number.
const noInk = 255

// withoutSeams takes out the seams of a third ink that lie along the edge
// between two whose mixture it resembles: they are thinner than any figure.
// A point stays what it is where a square of 3 x 3 of its ink touches it; the
// others go to the nearest of the inks that have such a square near by.
func withoutSeams(points []uint8, nearest func(point int, set uint32) uint8) []uint8 {
	square := squaresOf(points)
	out := slices.Clone(points)
	for j := squareReach; j < fineAll-squareReach; j++ {
		for i := squareReach; i < fineAll-squareReach; i++ {
			n := j*fineAll + i
			if square[n] != noInk {
				continue
			}
			if set, stays := squaresNear(square, n, points[n]); !stays && set != 0 {
				out[n] = nearest(n, set)
			}
		}
	}
	return out
}

// squaresOf is, for each point, the ink that the 3 x 3 points about it all have, or
// noInk.
func squaresOf(points []uint8) []uint8 {
	square := make([]uint8, len(points))
	for i := range square {
		square[i] = noInk
	}
	for j := 1; j < fineAll-1; j++ {
		for i := 1; i < fineAll-1; i++ {
			n := j*fineAll + i
			k := points[n]
			if points[n-1] == k && points[n+1] == k &&
				points[n-fineAll] == k && points[n-fineAll-1] == k && points[n-fineAll+1] == k &&
				points[n+fineAll] == k && points[n+fineAll-1] == k && points[n+fineAll+1] == k {
				square[n] = k
			}
		}
	}
	return square
}

// squareReach is how many points off the middle of a square near by may be: the
// square touches the point or leaves one between.
const squareReach = 2

// squaresNear are the inks of the squares near point n; where one of the point's own
// ink touches it, the point stays, and the inks need not be all.
func squaresNear(square []uint8, n int, own uint8) (set uint32, stays bool) {
	for b := -squareReach; b <= squareReach; b++ {
		for a := -squareReach; a <= squareReach; a++ {
			k := square[n+b*fineAll+a]
			if k == noInk {
				continue
			}
			set |= 1 << k
			if k == own && a*a <= 1 && b*b <= 1 {
				return set, true
			}
		}
	}
	return set, false
}

// firstTwin is the first thin ink that is the same to the eye as another one
// that has an inside or more votes, -1 for none.
func firstTwin(inks []ink, allowed uint32) int {
	for i, k := range inks {
		if allowed>>i&1 == 0 || !k.thin() {
			continue
		}
		for j, o := range inks {
			if j != i && allowed>>j&1 == 1 && (!o.thin() || o.votes > k.votes || o.votes == k.votes && j < i) &&
				colorspace.CIEDE2000(k.lab, o.lab) < sameInk {
				return i
			}
		}
	}
	return -1
}

// thinInks are the inks of thin figures, as bits.
func thinInks(inks []ink) (set uint32) {
	for i, k := range inks {
		if k.thin() {
			set |= 1 << i
		}
	}
	return set
}
