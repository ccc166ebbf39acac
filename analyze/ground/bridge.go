package ground

import (
	"math"

	"greige/analyze/raster"
)

const (
	// bridged is how wide, as a share of the photo's longer side, what parts two regions
	// of one ground may be: the printed line of a cutting mat, and the slopes that the
	// filters leave on either side of it.
	bridged = .012
	// leastBridge is in how many rows and columns two regions have to be alike across it:
	// fewer are specks.
	leastBridge = 3
	// leastPart is the least region, in pixels, that is looked at: of fewer most are slope.
	leastPart = 9
)

// lineWidth is bridged in pixels.
func (f *finder) lineWidth() float64 { return max(math.Floor(bridged*float64(max(f.w, f.h))), 2) }

// eachGap calls do for the pixels i and j at either end of each narrow gap between two
// runs of one number in a row or column, whatever lies in it; j comes step pixels before
// i, times their distance. 0 is no number.
func (f *finder) eachGap(label []int32, do func(i, j, step int)) {
	wide := int(f.lineWidth())
	var ends []int // of the runs before, in this row or column
	along := func(n, from, step int) {
		ends = ends[:0]
		before := int32(0)
		for k := range n {
			i := from + k*step
			at := label[i]
			if at != before && at != 0 {
				for e := len(ends) - 1; e >= 0 && k-ends[e] <= wide+1; e-- {
					do(i, from+ends[e]*step, step)
				}
			}
			if at != 0 && (k+1 == n || label[i+step] != at) {
				ends = append(ends, k)
			}
			before = at
		}
	}
	for y := range f.h {
		along(f.w, y*f.w, 1)
	}
	for x := range f.w {
		along(f.h, x, f.w)
	}
}

// region is a region of the picture that lines may part.
type region struct {
	raster.Component
	largest int // pixels of the largest of its parts
}

// regions are the connected regions of a mask in which a narrow gap parts nothing: where
// what lies on either side of it is alike, for the most part, it is a line on one ground,
// as a cutting mat has. Across a gap that is no wider light hardly falls off.
func (f *finder) regions(even *raster.Mask) (out []region) {
	cs := even.Components(raster.Sides, leastPart)
	label := raster.Labels(even.Bounds, cs)
	alike := map[[2]int32]int{} // by two regions: in how many places more than not
	f.eachGap(label, func(i, j, _ int) {
		if label[i] == label[j] {
			return
		}
		pair := [2]int32{min(label[i], label[j]) - 1, max(label[i], label[j]) - 1}
		if f.alike(i, j) {
			alike[pair]++
		} else {
			alike[pair] -= 2 // two in three have to be
		}
	})
	root := make([]int32, len(cs)) // of each region, a lower one that it is one with
	for k := range root {
		root[k] = int32(k)
	}
	find := func(k int32) int32 {
		for root[k] != k {
			root[k] = root[root[k]]
			k = root[k]
		}
		return k
	}
	for pair, n := range alike {
		if a, b := find(pair[0]), find(pair[1]); n >= leastBridge {
			root[max(a, b)] = min(a, b)
		}
	}
	at := map[int32]int{}
	for k, c := range cs {
		r := find(int32(k))
		if int(r) == k {
			at[r] = len(out)
			out = append(out, region{c, c.Pixels})
			continue
		}
		whole := &out[at[r]]
		whole.Pixels += c.Pixels
		whole.Bounds = whole.Bounds.Union(c.Bounds)
		whole.Runs = append(whole.Runs, c.Runs...)
		whole.largest = max(whole.largest, c.Pixels)
	}
	return out
}

// lines are the narrow gaps in the ground between places that are alike.
func (f *finder) lines(member *raster.Mask) *raster.Mask {
	label := make([]int32, len(member.In))
	for i, in := range member.In {
		if in {
			label[i] = 1
		}
	}
	out := raster.NewMask(member.Bounds)
	f.eachGap(label, func(i, j, step int) {
		if f.alike(i, j) {
			for k := j + step; k < i; k += step {
				out.In[k] = true
			}
		}
	})
	return out
}

// alike is whether two pixels are of one ground, by the least spread that it has.
func (f *finder) alike(i, j int) bool {
	sum := float32(0)
	for _, v := range f.m {
		sum += sq((v[i] - v[j]) / leastSpread)
	}
	return sum < Seen*Seen
}
