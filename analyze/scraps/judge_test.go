package scraps

import (
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// White in the light of a bulb that the camera balances by half: illuminant A
// (CIE 15:2018, X 109.850, Z 35.585) half way to D65 (X 95.047, Z 108.883), in
// logarithms.
func TestPaperInABulbsLight(t *testing.T) {
	half := colorspace.Lab{L: 95, A: 500 * (1.0245 - 1) * .95, B: 200 * (1 - .8299) * .95}
	sheet := look{area: 44000, hull: 44000, box: 46000, fill: .98, corners: 3, length: 260, width: 178, l: half.L, a: half.A, b: half.B, rough: .5, grain: .4}
	require.NotEmpty(t, sheet.doubt(1600, 3000, 5000))
	cloth := sheet
	cloth.a, cloth.b = -half.B, half.A // as deep, of another hue than a lamp's
	require.Empty(t, cloth.doubt(1600, 3000, 5000))
}

// A hand with its nails is less even than a solid, and its fingers leave gaps;
// a scrap that the border cuts straight leaves none.
func TestHandWithNails(t *testing.T) {
	hand := look{area: 58000, hull: 68000, box: 94000, fill: .86, corners: 80, length: 450, width: 210, border: 190, l: 70, a: 14, b: 22, rough: 11}
	require.NotEmpty(t, hand.doubt(1600, 40000, 50000))
	hand.area, hand.fill = 67000, .98
	require.Empty(t, hand.doubt(1600, 40000, 50000))
}
