package colorspace

// DecodeTable8 is the linear light, 0..1, of each 8-bit sRGB code: a copy of
// the caller's own.
func DecodeTable8() *[256]float32 {
	var t [256]float32
	for i := range t {
		t[i] = float32(DecodeSRGB(float64(i) / 255))
	}
	return &t
}
