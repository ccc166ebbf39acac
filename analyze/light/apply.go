package light

import (
	"runtime"
	"sync"

	"greige/analyze/photo"
)

// bands calls do for runs of rows, side by side. The rows are shared out by
// their number alone, and do must write only to its own rows, so that the
// result is the same however many run at once.
func bands(h int, do func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), h)
	if n <= 1 {
		do(0, h)
		return
	}
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { do(i*h/n, (i+1)*h/n) })
	}
	wg.Wait()
}

// scaled is p with one gain a channel.
func scaled(p *photo.Picture, gain [3]float64) *photo.Picture {
	q := &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	r, g, b := float32(gain[0]), float32(gain[1]), float32(gain[2])
	bands(p.H, func(y0, y1 int) {
		src, dst := p.Pix[3*y0*p.W:3*y1*p.W], q.Pix[3*y0*p.W:3*y1*p.W]
		for i := 0; i+2 < len(src); i += 3 {
			dst[i], dst[i+1], dst[i+2] = src[i]*r, src[i+1]*g, src[i+2]*b
		}
	})
	return q
}
