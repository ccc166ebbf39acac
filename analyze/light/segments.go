package light

import (
	"math"

	"greige/analyze/raster"
)

// segments are the flat parts of a photo: connected cells of one colour.
type segments struct {
	label []int32 // by cell; -1 where the cell is not used
	size  []int32 // by label
}

// spread gives the labels of a halved picture to the cells of c it came from.
func (s *segments) spread(half, c *cells) segments {
	o := segments{label: make([]int32, c.w*c.h), size: make([]int32, len(s.size))}
	for i := range o.label {
		o.label[i] = -1
		if l := s.label[i/c.w/2*half.w+i%c.w/2]; l >= 0 && c.use[i] {
			o.label[i] = l
			o.size[l]++
		}
	}
	return o
}

// divide divides the cells into flat parts (raster.Segments). A slow slope of the light
// is a row of steps that are taken off, and divides nothing.
func (c *cells) divide() segments {
	// A lamp twice as bright at one end of the photo makes steps like that,
	// which on smooth paper are larger than all others.
	lamp := float32(math.Ln2) / float32(max(c.w, c.h))
	label, size := raster.Segments(c.w, c.h, segmentScale, func(i, j int) (float32, bool) {
		return max(c.apart(i, j)-lamp, 0), c.use[i] && c.use[j]
	})
	for i, use := range c.use {
		if !use {
			label[i] = -1
		}
	}
	return segments{label, size}
}

// segmentScale is the allowance for small parts: ten cells may differ from their
// neighbours by a tenth.
const segmentScale = 1
