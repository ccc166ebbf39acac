package raster

import "container/heap"

// Watershed floods a plane of w x h values from markers. label has a number above
// 0 at each marker; Watershed gives every pixel that open holds, and that can be
// reached from a marker by steps across or down over such pixels, the number of
// the marker whose flood comes first (Beucher and Meyer 1993; flooding by an
// ordered queue, Meyer 1994, Signal Processing 38:113). Where open is nil all
// pixels are open.
func Watershed(height []float32, w, h int, label []int32, open []bool) {
	var q flood
	for i, l := range label {
		if l > 0 && (open == nil || open[i]) {
			q.pixels = append(q.pixels, flooded{height[i], int32(len(q.pixels)), int32(i)})
		}
	}
	heap.Init(&q)
	age := int32(len(q.pixels))
	for len(q.pixels) > 0 {
		p := heap.Pop(&q).(flooded)
		i := int(p.pixel)
		x := i % w
		for k, j := range [4]int{i - w, i - 1, i + 1, i + w} {
			if j < 0 || j >= w*h || k == 1 && x == 0 || k == 2 && x == w-1 || label[j] != 0 || open != nil && !open[j] {
				continue
			}
			label[j] = label[i]
			heap.Push(&q, flooded{max(height[j], p.height), age, int32(j)})
			age++
		}
	}
}

// flooded is a pixel that the flood reached, at which height and after how many
// others.
type flooded struct {
	height     float32
	age, pixel int32
}

type flood struct{ pixels []flooded }

func (q *flood) Len() int { return len(q.pixels) }
func (q *flood) Less(i, j int) bool {
	a, b := q.pixels[i], q.pixels[j]
	if a.height != b.height {
		return a.height < b.height
	}
	return a.age < b.age
}
func (q *flood) Swap(i, j int) { q.pixels[i], q.pixels[j] = q.pixels[j], q.pixels[i] }
func (q *flood) Push(x any)    { q.pixels = append(q.pixels, x.(flooded)) }
func (q *flood) Pop() any {
	last := len(q.pixels) - 1
	p := q.pixels[last]
	q.pixels = q.pixels[:last]
	return p
}
