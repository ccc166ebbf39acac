package stash

import (
	"encoding/binary"
	"errors"
	"math"

	"greige/analyze/piles"
	"greige/colorspace"
)

// key is what a cloth is asked for by. It is kept packed, one a row, since of a
// row that is read the columns take most of the time.
type key struct {
	id           int64
	photo, group int64
	lab          colorspace.Lab
	// unsure and within are the halves of the 95 % intervals on L* against
	// cloths of other photos and of the same one.
	unsure, within  float64
	left            float64 // cm2; NaN: not known
	name, character string
	inks            []ink
}

// ink is one colour of a cloth and its share of it, 0..1.
type ink struct {
	lab   colorspace.Lab
	share float64
}

func keyOf(f *piles.Fabric, id, photo, group int64, left float64) key {
	k := key{id: id, photo: photo, group: group, lab: f.Lab, unsure: f.Uncertainty, within: within(f), left: left,
		name: f.Name, character: string(f.Character)}
	for _, c := range f.Colours {
		k.inks = append(k.inks, ink{c.Lab, c.Share})
	}
	return k
}

// within is the half interval against cloths of the same photo; all of it
// where that part is not given, the safe side.
func within(f *piles.Fabric) float64 {
	if f.Apart > 0 {
		return f.Apart
	}
	return f.Uncertainty
}

// A packed key is little-endian: photo and group, 8 bytes each; L*, a*, b*,
// unsure, within and left, and each ink's L*, a*, b* and share, as 64-bit IEEE
// 754 numbers; the texts, each behind its length in 2 bytes; before the inks
// their number in 2 bytes.
func (k *key) pack() []byte {
	b := make([]byte, 0, 80+len(k.name)+len(k.character)+32*len(k.inks))
	le := binary.LittleEndian
	b = le.AppendUint64(b, uint64(k.photo))
	b = le.AppendUint64(b, uint64(k.group))
	floats := func(v ...float64) {
		for _, x := range v {
			b = le.AppendUint64(b, math.Float64bits(x))
		}
	}
	floats(k.lab.L, k.lab.A, k.lab.B, k.unsure, k.within, k.left)
	for _, s := range []string{k.name, k.character} {
		s = s[:min(len(s), math.MaxUint16)]
		b = append(le.AppendUint16(b, uint16(len(s))), s...)
	}
	inks := k.inks[:min(len(k.inks), math.MaxUint16)]
	b = le.AppendUint16(b, uint16(len(inks)))
	for _, c := range inks {
		floats(c.lab.L, c.lab.A, c.lab.B, c.share)
	}
	return b
}

var errKey = errors.New("a key that cannot be read")

// unpack reads what pack wrote, over what k was. words is where the texts of several
// keys are put, so that not each takes memory of its own.
func (k *key) unpack(b []byte, words map[string]string) error {
	le := binary.LittleEndian
	const fixed = 8 * 8
	if len(b) < fixed {
		return errKey
	}
	k.photo, k.group = int64(le.Uint64(b)), int64(le.Uint64(b[8:]))
	float := func(i int) float64 { return math.Float64frombits(le.Uint64(b[i:])) }
	k.lab = colorspace.Lab{L: float(16), A: float(24), B: float(32)}
	k.unsure, k.within, k.left = float(40), float(48), float(56)
	b = b[fixed:]
	for _, s := range []*string{&k.name, &k.character} {
		if len(b) < 2 || len(b) < 2+int(le.Uint16(b)) {
			return errKey
		}
		word := b[2 : 2+le.Uint16(b)]
		known, ok := words[string(word)]
		if !ok {
			known = string(word)
			words[known] = known
		}
		*s = known
		b = b[2+len(word):]
	}
	if len(b) < 2 || len(b) != 2+32*int(le.Uint16(b)) {
		return errKey
	}
	n := int(le.Uint16(b))
	b = b[2:]
	k.inks = k.inks[:0]
	for i := range n {
		k.inks = append(k.inks, ink{colorspace.Lab{L: float(32 * i), A: float(32*i + 8), B: float(32*i + 16)}, float(32*i + 24)})
	}
	return nil
}
