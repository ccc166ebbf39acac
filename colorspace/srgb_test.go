package colorspace

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDecodeSRGBIsTheStandardsCurve(t *testing.T) {
	rows := table(t, published(t, "01_srgb_transfer.csv"))
	decode8 := DecodeTable8()
	for _, r := range rows {
		code, want := r.num(t, "code8"), r.num(t, "linear_formula")
		require.InDelta(t, want, DecodeSRGB(code/255), 5.1e-9, "code %v", code) // the table's last digit
		require.InDelta(t, want, decode8[int(code)], 5e-8, "code %v", code)     // float32
	}
}

func TestEncodeSRGBUndoesDecode(t *testing.T) {
	for i := -300; i <= 1300; i++ {
		e := float64(i) / 1000
		require.InDelta(t, e, EncodeSRGB(DecodeSRGB(e)), 1e-9) // also where the two straight ends do not quite meet
		require.Equal(t, -DecodeSRGB(e), DecodeSRGB(-e))
	}
}

// The figures are culori's and colorjs.io's, which mirror the curve below 0.
func TestEncodeSRGBOutsideTheGamut(t *testing.T) {
	text := published(t, "01_matrices.txt")
	for _, c := range []struct {
		heading string
		space   Space
		code    [3]float64
	}{
		{"p3 1,0,0 -> sRGB", DisplayP3, [3]float64{1, 0, 0}},
		{"p3 0,1,0 -> sRGB", DisplayP3, [3]float64{0, 1, 0}},
		{"p3 0.5,0.5,0.5 -> sRGB", DisplayP3, [3]float64{.5, .5, .5}},
		{"p3 0.8,0.4,0.2 -> sRGB", DisplayP3, [3]float64{.8, .4, .2}},
		{"p3 0.2,0.6,0.4 -> sRGB", DisplayP3, [3]float64{.2, .6, .4}},
		{"a98rgb 0,1,0 -> sRGB", AdobeRGB, [3]float64{0, 1, 0}},
		{"a98rgb 0.5,0.5,0.5 -> sRGB", AdobeRGB, [3]float64{.5, .5, .5}},
		{"a98rgb 0.8,0.4,0.2 -> sRGB", AdobeRGB, [3]float64{.8, .4, .2}},
	} {
		want := after(t, text, c.heading, 6)
		have := Linear(c.space.ToLinearSRGB().Apply(decodeAs(c.space, c.code)))
		for i := range 3 {
			require.InDelta(t, want[i], EncodeSRGB(have[i]), 5.1e-6, c.heading)
		}
		requireLab(t, Lab{want[3], want[4], want[5]}, have.Lab(), 5.1e-5)
	}
}

// decodeAs turns a code of one of the spaces into its linear light: Display P3
// has sRGB's curve, Adobe RGB (1998) the power 563/256.
func decodeAs(s Space, code [3]float64) [3]float64 {
	for i, v := range code {
		if s == AdobeRGB {
			code[i] = math.Pow(v, 563./256)
		} else {
			code[i] = DecodeSRGB(v)
		}
	}
	return code
}

func TestEncode8IsTheCurveToTheNearestCodeOrItsNeighbour(t *testing.T) {
	for i := range 1 << 16 {
		v := float32(i) / (1<<16 - 1)
		require.InDelta(t, EncodeSRGB(float64(v))*255, float64(Encode8(v)), .65)
	}
	for code, linear := range DecodeTable8() {
		require.Equal(t, uint8(code), Encode8(linear))
	}
	require.Equal(t, uint8(0), Encode8(float32(math.NaN())))
	require.Equal(t, uint8(0), Encode8(-1))
	require.Equal(t, uint8(255), Encode8(7))
}

func TestHexClipsForDisplay(t *testing.T) {
	require.Equal(t, "#ff0080", Linear{1.2, -.3, DecodeSRGB(128. / 255)}.Hex())
	require.Equal(t, "#000000", Linear{math.NaN(), math.Inf(-1), 0}.Hex())
	require.Equal(t, [3]uint8{255, 118, 1}, Linear{math.Inf(1), DecodeSRGB(118. / 255), DecodeSRGB(1. / 255)}.SRGB8())
}

func TestDecodeTableIsTheCallersOwn(t *testing.T) {
	DecodeTable8()[7] = 9
	require.Less(t, DecodeTable8()[7], float32(1))
}

func TestOfHexUndoesHex(t *testing.T) {
	for _, hex := range []string{"#000000", "#ffffff", "#8b8b8b", "#0f80fe"} {
		c, ok := OfHex(hex)
		assert.True(t, ok, hex)
		assert.Equal(t, hex, c.Hex())
	}
	for _, s := range []string{"", "#", "#fff", "#ggggff", "8b8b8b", "#8b8b8b8b"} {
		_, ok := OfHex(s)
		assert.False(t, ok, s)
	}
}
