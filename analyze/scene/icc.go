package scene

import (
	"encoding/binary"
	"math"

	"greige/colorspace"
)

// profile is a matrix and curve ICC profile of an RGB space with the sRGB
// curve, version 4 (ICC.1:2022, 8.3): what a phone puts in its files.
func profile(name string, space colorspace.Space) []byte {
	be := binary.BigEndian
	fixed := func(b []byte, v float64) []byte { return be.AppendUint32(b, uint32(int32(math.Round(v*65536)))) }
	xyz := func(x, y, z float64) []byte {
		return fixed(fixed(fixed([]byte("XYZ \x00\x00\x00\x00"), x), y), z)
	}
	text := func(s string) []byte {
		b := be.AppendUint32([]byte("mluc\x00\x00\x00\x00"), 1)
		b = append(be.AppendUint32(b, 12), "enUS"...)
		b = be.AppendUint32(be.AppendUint32(b, uint32(2*len(s))), 28)
		for _, r := range s {
			b = be.AppendUint16(b, uint16(r))
		}
		return b
	}
	// para type 3: Y = (aX+b)^g from d on, cX under it (IEC 61966-2-1).
	curve := []byte("para\x00\x00\x00\x00\x00\x03\x00\x00")
	for _, v := range []float64{2.4, 1 / 1.055, .055 / 1.055, 1 / 12.92, .04045} {
		curve = fixed(curve, v)
	}
	d50 := colorspace.WhiteD50()
	adapt := colorspace.AdaptationBradford(colorspace.WhiteD65(), d50)
	m := adapt.Mul(space.ToXYZ())
	chad := []byte("sf32\x00\x00\x00\x00")
	for _, row := range adapt {
		for _, v := range row {
			chad = fixed(chad, v)
		}
	}
	tags := []struct {
		name string
		data []byte
	}{
		{"desc", text(name)}, {"cprt", text("No copyright, use freely")},
		{"wtpt", xyz(d50.X, d50.Y, d50.Z)}, {"chad", chad},
		{"rXYZ", xyz(m[0][0], m[1][0], m[2][0])}, {"gXYZ", xyz(m[0][1], m[1][1], m[2][1])}, {"bXYZ", xyz(m[0][2], m[1][2], m[2][2])},
		{"rTRC", curve}, {"gTRC", curve}, {"bTRC", curve},
	}
	table := be.AppendUint32(nil, uint32(len(tags)))
	var data []byte
	at := map[string]int{} // the three curves are stored once
	for _, t := range tags {
		pos, seen := at[string(t.data)]
		if !seen {
			pos = 128 + 4 + 12*len(tags) + len(data)
			at[string(t.data)] = pos
			data = append(data, t.data...)
			for len(data)%4 != 0 {
				data = append(data, 0)
			}
		}
		table = append(table, t.name...)
		table = be.AppendUint32(be.AppendUint32(table, uint32(pos)), uint32(len(t.data)))
	}
	head := make([]byte, 128)
	be.PutUint32(head, uint32(128+len(table)+len(data)))
	copy(head[8:], "\x04\x40\x00\x00mntrRGB XYZ ")
	copy(head[24:], "\x07\xe8\x00\x01\x00\x01") // 1 January 2024
	copy(head[36:], "acsp")
	copy(head[68:], xyz(d50.X, d50.Y, d50.Z)[8:])
	return append(append(head, table...), data...)
}
