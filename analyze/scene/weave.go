package scene

import (
	"math"

	"greige/colorspace"
)

// weave is the yarn structure of plain-woven cotton, relief and the uneven
// thickness of the yarns: mean 0, standard deviation 1 from close by, and
// averaged down to what a pixel sees.
type weave struct {
	n     int
	texel float64 // cm
	z     []float32
}

const (
	weaveSize  = 4.0 // cm, a repeat
	weaveSteps = 528
	yarns      = 110 // in a repeat: some 28 a cm, 70 an inch
)

// newWeave averages the structure down to texels of about the given size.
func newWeave(seed uint64, texel float64) *weave {
	fine := make([]float64, weaveSteps*weaveSteps)
	const step = float64(yarns) / weaveSteps
	var sum, square float64
	// Thick and thin places of each yarn, some centimetres long.
	slub := func(yarn, along int, which uint64) float64 {
		return .5*lattice(seed+which, yarn, 0) + .5*smoothRepeat(seed+which+5, float64(yarn)+.5, float64(along)/44, yarns, weaveSteps/44)
	}
	warp, weft := make([]float64, weaveSteps*yarns), make([]float64, weaveSteps*yarns)
	for y := range yarns {
		for k := range weaveSteps {
			warp[y*weaveSteps+k] = slub(y, k, 1)
			weft[y*weaveSteps+k] = slub(y, k, 2)
		}
	}
	for j := range weaveSteps {
		y := (float64(j) + .5) * step
		b, ty := int(y), y-math.Floor(y)-.5
		for i := range weaveSteps {
			x := (float64(i) + .5) * step
			a, tx := int(x), x-math.Floor(x)-.5
			var v float64 // the round of the yarn on top, lit from above
			if (a+b)%2 == 0 {
				v = -4*tx*tx - ty*ty + .5*warp[a*weaveSteps+j]
			} else {
				v = -4*ty*ty - tx*tx + .5*weft[b*weaveSteps+i]
			}
			fine[j*weaveSteps+i] = v
			sum += v
			square += v * v
		}
	}
	n := float64(len(fine))
	mean := sum / n
	dev := math.Sqrt(square/n - mean*mean)
	// The largest divisor of the steps that is no more than a texel.
	k := 1
	for d := 2; d <= weaveSteps/8; d++ {
		if weaveSteps%d == 0 && float64(d)*weaveSize/weaveSteps <= texel {
			k = d
		}
	}
	w := &weave{n: weaveSteps / k, texel: weaveSize / weaveSteps * float64(k)}
	w.z = make([]float32, w.n*w.n)
	for j := range weaveSteps {
		for i := range weaveSteps {
			w.z[j/k*w.n+i/k] += float32((fine[j*weaveSteps+i] - mean) / dev / float64(k*k))
		}
	}
	return w
}

// at is the structure at a place of the cloth, in cm.
func (w *weave) at(u, v float64) float32 {
	u, v = u*(1/weaveSize), v*(1/weaveSize)
	i := int((u - math.Floor(u)) * float64(w.n))
	j := int((v - math.Floor(v)) * float64(w.n))
	return w.z[min(max(j, 0), w.n-1)*w.n+min(max(i, 0), w.n-1)]
}

// laid is a piece of cloth as it lies on the plane.
type laid struct {
	fabric   *fabric
	weave    *weave
	cos, sin float64
	u, v     float64 // where the piece was cut from
	part     int32
}

func (s *stage) lay(f *fabric, angle, u, v float64) *laid {
	l := &laid{fabric: f, weave: s.weave, u: u, v: v, part: s.part(f)}
	l.sin, l.cos = math.Sincos(angle)
	return l
}

func (l *laid) at(p point) hit {
	u, v := l.u+l.cos*p.x+l.sin*p.y, l.v+l.cos*p.y-l.sin*p.x
	k := l.fabric.tile.at(u, v)
	c := l.fabric.light[k]
	if l.fabric.weave != 0 {
		z := max(1+l.fabric.weave*l.weave.at(u, v), .2)
		c[0] *= z
		c[1] *= z
		c[2] *= z
	}
	return hit{light: c, shade: 1, part: l.part, ink: k}
}

// flat is a thing of one colour that is no cloth.
type flat struct{ light [3]float32 }

func paint(l colorspace.Lab) flat {
	c := l.Linear()
	return flat{[3]float32{float32(c[0]), float32(c[1]), float32(c[2])}}
}

func (f flat) at(point) hit { return hit{light: f.light, shade: 1, part: -1} }
