package scene

import "image"

// tally adds up what was seen of a part. Whole numbers, so that the sum is
// the same in any order.
type tally struct {
	light [3]int64 // in steps of 2^-24
	n     int64
	inks  []int64
}

func (t *tally) add(h hit) {
	t.n++
	t.inks[h.ink]++
	for j := range t.light {
		t.light[j] += int64(h.light[j] * (1 << 24))
	}
}

// measure turns what was added up into means.
func (t *tally) measure(inks []Ink) Measure {
	var m Measure
	if t.n == 0 {
		return m
	}
	for j, v := range t.light {
		m.Reflectance[j] = float64(v) / (1 << 24) / float64(t.n)
	}
	m.Lab = m.Reflectance.Lab()
	m.Pixels = float64(t.n) / float64(samples)
	for i, n := range t.inks {
		if n > 0 {
			m.Inks = append(m.Inks, Ink{inks[i].Lab, float64(n) / float64(t.n)})
		}
	}
	return m
}

// each calls f for every sample of a rectangle of the photo in which a part
// is seen, with its pixel.
func (s *stage) each(part int, in image.Rectangle, f func(x, y int, t hit)) {
	w, h := s.take.Width, s.take.Height
	in = in.Intersect(image.Rect(0, 0, w, h))
	sc := newScan(s.shapes, s.edges())
	label := make([]int32, w)
	for y := in.Min.Y; y < in.Max.Y; y++ {
		sc.band(float64(y), float64(y+1))
		for i, offset := range sampleX {
			v := float64(y) + (float64(i)+.5)/float64(samples)
			sc.line(v, offset, label)
			for x := in.Min.X; x < in.Max.X; x++ {
				if label[x] == 0 {
					continue
				}
				t := s.shapes[label[x]-1].surface.at(s.toPlane.apply(point{float64(x) + offset, v}))
				if int(t.part) == part {
					f(x, y, t)
				}
			}
		}
	}
}

// Mask is where one part is seen: a piece by its index in Truth.Pieces, a
// patch by its index in Truth.Grid.Patches. 255 is a pixel that it fills, 0
// one where it is not.
func (s *Shot) Mask(part int) *image.Gray {
	mask := image.NewGray(image.Rect(0, 0, s.Truth.Width, s.Truth.Height))
	s.stage.each(part, mask.Rect, func(x, y int, _ hit) { mask.Pix[y*mask.Stride+x] += 63 })
	for i, v := range mask.Pix {
		if v == 63*uint8(samples) {
			mask.Pix[i] = 255
		}
	}
	return mask
}

// Measure is what is true of the part, numbered as for Mask, within a
// rectangle of the photo.
func (s *Shot) Measure(part int, in image.Rectangle) Measure {
	f := s.stage.parts[part]
	t := tally{inks: make([]int64, len(f.inks))}
	s.stage.each(part, in, func(_, _ int, h hit) { t.add(h) })
	return t.measure(f.inks)
}
