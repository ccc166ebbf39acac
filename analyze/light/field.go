package light

import "math"

// geometry maps working pixels to -1..1 over the photo's width and height.
type geometry struct{ w, h float64 }

func (g geometry) uv(x, y float64) (u, v float64) { return 2*x/g.w - 1, 2*y/g.h - 1 }

// The field of light is the logarithm of the illumination as a polynomial of
// degree 4 over the photo, on products of Legendre polynomials. They have no
// mean over the photo, so the field is 0 on average and its level stands
// beside it.
const (
	degree = 4
	terms  = 14 // products of degree 1 to 4; the constant is kept apart
)

type vector [terms]float64

// matrix is terms x terms, row by row.
type matrix [terms * terms]float64

// quad is a' m a.
func (m *matrix) quad(a vector) float64 {
	sum := 0.0
	for i, x := range a {
		row := 0.0
		for j, y := range a {
			row += m[i*terms+j] * y
		}
		sum += x * row
	}
	return sum
}

// powers are the degrees of each term in u and in v.
var powers = func() (p [terms][2]int) {
	n := 0
	for d := 1; d <= degree; d++ {
		for i := d; i >= 0; i-- {
			p[n] = [2]int{i, d - i}
			n++
		}
	}
	return p
}()

// meanSquare is that of term j over the photo.
func meanSquare(j int) float64 { return 1 / float64((2*powers[j][0]+1)*(2*powers[j][1]+1)) }

// legendre is the Legendre polynomials of degree 0 to 4 at t.
func legendre(t float64) [degree + 1]float64 {
	t2 := t * t
	return [degree + 1]float64{1, t, (3*t2 - 1) / 2, (5*t2 - 3) * t / 2, ((35*t2-30)*t2 + 3) / 8}
}

// basis is the value of each term at (u, v).
func basis(u, v float64) (b vector) {
	pu, pv := legendre(u), legendre(v)
	for j, p := range powers {
		b[j] = pu[p[0]] * pv[p[1]]
	}
	return b
}

// field is the light over a photo: ln of the illumination is level + coef .
// basis, for luminance and for the three ratios of R, G and B to it.
type field struct {
	coef [4]vector
	cov  matrix // of coef[0]
	// sd is the standard deviation of ln Y of one sample about the fit.
	sd float64
	// vari is the variance that one sample stands for, in each of the four: more
	// than a sample's own, because neighbours err alike.
	vari   [4]float64
	groups []group
	info   information // of the samples about coef[0]
	lamp   *family     // the priors of coef[0]
}

// group is one surface: its own light where the field is 0, and where it was
// seen on average.
type group struct {
	level  [4]float64 // ln Y, ln R/Y, ln G/Y, ln B/Y
	centre vector
	weight float64 // number of samples, robustly counted
}

// light is the surface's own linear light at the photo's average illumination.
func (g *group) light() (l [3]float64) {
	for k := range l {
		l[k] = math.Exp(g.level[0] + g.level[k+1])
	}
	return l
}

// lnY is ln of the illumination at a place, relative to its mean over the photo.
func (f *field) lnY(b *vector) float64 { return f.channel(0, b) }

func (f *field) channel(k int, b *vector) float64 {
	s := 0.0
	for i, c := range f.coef[k] {
		s += c * b[i]
	}
	return s
}

// over is one channel of the field on a lattice, at us x vs, row by row. Along
// a row the field is a polynomial in u alone, so that a place costs degree + 1
// products.
func (f *field) over(k int, us, vs []float64) []float32 {
	pu := make([][degree + 1]float64, len(us))
	for i, u := range us {
		pu[i] = legendre(u)
	}
	out := make([]float32, len(us)*len(vs))
	for j, v := range vs {
		pv := legendre(v)
		var q [degree + 1]float64
		for n, p := range powers {
			q[p[0]] += f.coef[k][n] * pv[p[1]]
		}
		row := out[j*len(us) : (j+1)*len(us)]
		for i := range row {
			p := &pu[i]
			row[i] = float32(q[0] + q[1]*p[1] + q[2]*p[2] + q[3]*p[3] + q[4]*p[4])
		}
	}
	return out
}

// rms is the root mean square over the photo of ln of the illumination with
// these coefficients.
func (v *vector) rms() float64 {
	s := 0.0
	for j, c := range v {
		s += c * c * meanSquare(j)
	}
	return math.Sqrt(s)
}

func (f *field) rms() float64 { return f.coef[0].rms() }

// moved is by how much the light of two fields differs: rms over the photo.
func (f *field) moved(before *vector) float64 {
	d := f.coef[0]
	for j := range d {
		d[j] -= before[j]
	}
	return d.rms()
}

// doubt is the rms of the field's own uncertainty over the photo.
func (f *field) doubt() float64 {
	s := 0.0
	for j := range terms {
		s += f.cov[j*terms+j] * meanSquare(j)
	}
	return math.Sqrt(s)
}

// unevenness is the brightest part of the light over the dimmest.
func (f *field) unevenness() float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	const n = 20 // steps across; the field has four bends at most
	for j := range n + 1 {
		for i := range n + 1 {
			b := basis(2*float64(i)/n-1, 2*float64(j)/n-1)
			y := f.lnY(&b)
			lo, hi = min(lo, y), max(hi, y)
		}
	}
	return math.Exp(hi - lo)
}

// meanSigma is the relative standard uncertainty of a surface's level that was
// seen in n cells.
func (f *field) meanSigma(n float64) float64 { return math.Sqrt(f.vari[0] / max(n, 1)) }
