package raster

import "image"

// Sums is a summed-area table (Crow 1984, SIGGRAPH Comput. Graph. 18:207): the
// sum of a plane's values over any rectangle in four steps.
type Sums struct {
	w, h int
	sum  []float64 // over all pixels above and to the left of each corner
}

// NewSums is the table of a plane of w x h values, row by row.
func NewSums(v []float32, w, h int) *Sums {
	return newSums(w, h, func(i int) float64 { return float64(v[i]) })
}

// Sums is the table of a mask: 1 for each pixel of it. Its places count from the
// corner of the mask's bounds.
func (m *Mask) Sums() *Sums {
	return newSums(m.Bounds.Dx(), m.Bounds.Dy(), func(i int) float64 {
		if m.In[i] {
			return 1
		}
		return 0
	})
}

func newSums(w, h int, at func(i int) float64) *Sums {
	s := &Sums{w, h, make([]float64, (w+1)*(h+1))}
	for y := range h {
		row := 0.0
		for x := range w {
			row += at(y*w + x)
			s.sum[(y+1)*(w+1)+x+1] = s.sum[y*(w+1)+x+1] + row
		}
	}
	return s
}

// Over is the sum over the part of r that lies in the plane.
func (s *Sums) Over(r image.Rectangle) float64 {
	r = r.Intersect(image.Rect(0, 0, s.w, s.h))
	k := s.w + 1
	return s.sum[r.Max.Y*k+r.Max.X] - s.sum[r.Min.Y*k+r.Max.X] - s.sum[r.Max.Y*k+r.Min.X] + s.sum[r.Min.Y*k+r.Min.X]
}

// Mean is the mean over the part of r that lies in the plane; 0 where none does.
func (s *Sums) Mean(r image.Rectangle) float64 {
	r = r.Intersect(image.Rect(0, 0, s.w, s.h))
	if r.Empty() {
		return 0
	}
	return s.Over(r) / float64(r.Dx()*r.Dy())
}
