package raster

import "slices"

// Watershed floods a plane of w x h values from markers. label has a number above
// 0 at each marker; Watershed gives every pixel that open holds, and that can be
// reached from a marker by steps across or down over such pixels, the number of
// the marker whose flood comes first. Where open is nil all pixels are open.
// Method: flooding by an ordered queue (Meyer 1994, Signal Processing 38:113), over
// 4096 levels between the lowest and the highest value.
func Watershed(height []float32, w, h int, label []int32, open []bool) {
	const levels = 4096
	if len(height) == 0 {
		return
	}
	low, high := slices.Min(height), slices.Max(height)
	scale := float32(0)
	if high > low {
		scale = (levels - 1) / (high - low)
	}
	q := queue{first: make([]int32, levels), last: make([]int32, levels), next: make([]int32, w*h)}
	levelOf := func(i int) int { return int((height[i]-low)*scale + .5) }
	for i, l := range label {
		if l > 0 && (open == nil || open[i]) && borders(label, w, i) {
			q.add(levelOf(i), i)
		}
	}
	for level := range levels {
		for i := q.take(level); i >= 0; i = q.take(level) {
			x := i % w
			for k, j := range [4]int{i - w, i - 1, i + 1, i + w} {
				if j < 0 || j >= w*h || k == 1 && x == 0 || k == 2 && x == w-1 || label[j] != 0 || open != nil && !open[j] {
					continue
				}
				label[j] = label[i]
				q.add(max(levelOf(j), level), j)
			}
		}
	}
}

// borders tells whether a pixel without a label lies beside pixel i; one in the
// midst of a marker floods nothing.
func borders(label []int32, w, i int) bool {
	for _, j := range [4]int{i - w, i - 1, i + 1, i + w} {
		if j >= 0 && j < len(label) && label[j] == 0 {
			return true
		}
	}
	return false
}

// queue is one queue of pixels for each level; a pixel is in one at most. Entries
// are 1 + the pixel's place, 0 for none.
type queue struct{ first, last, next []int32 }

func (q *queue) add(level, i int) {
	p := int32(i + 1)
	q.next[i] = 0
	if q.last[level] == 0 {
		q.first[level] = p
	} else {
		q.next[q.last[level]-1] = p
	}
	q.last[level] = p
}

func (q *queue) take(level int) int {
	p := q.first[level]
	if p == 0 {
		return -1
	}
	q.first[level] = q.next[p-1]
	if q.first[level] == 0 {
		q.last[level] = 0
	}
	return int(p - 1)
}
