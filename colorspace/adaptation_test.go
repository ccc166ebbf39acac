package colorspace

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAdaptationOfThePublishedExample(t *testing.T) {
	text := published(t, "05_whites_and_adaptation.txt")
	d65, d50 := XYZOf(.3127, .3290), XYZOf(.3457, .3585)
	there, back := AdaptationBradford(d65, d50), AdaptationBradford(d50, d65)
	part := past(t, text, "Bradford matrix:")
	requireMatrix(t, matrixAfter(t, part, "D65->D50:"), there, 5.1e-11)
	requireMatrix(t, matrixAfter(t, part, "D50->D65:"), back, 5.1e-11)

	want := after(t, past(t, text, "Worked:"), "Bradford ->", 3)
	have := XYZ{.20654008, .12197225, .05136952}.Adapt(there)
	require.InDeltaSlice(t, want, []float64{have.X, have.Y, have.Z}, 5.1e-9)

	// The white goes over into the white, and there and back is nothing.
	w := d65.Adapt(there)
	require.InDeltaSlice(t, []float64{d50.X, d50.Y, d50.Z}, []float64{w.X, w.Y, w.Z}, 1e-14)
	requireMatrix(t, Matrix{{1}, {0, 1}, {0, 0, 1}}, there.Mul(back), 1e-14)
}

func TestWhitePoints(t *testing.T) {
	text := published(t, "05_whites_and_adaptation.txt")
	whites := past(t, text, "XYZ from xy (Y=100):")
	for _, c := range []struct {
		heading string
		have    XYZ
	}{
		{"A [", XYZOf(.44758, .40745)},
		{"C [", XYZOf(.31006, .31616)},
		{"D50 [", XYZOf(.3457, .3585)},
		{"D65 [", WhiteD65()},
	} {
		want := after(t, whites, c.heading, 3)
		require.InDeltaSlice(t, want, []float64{100 * c.have.X, 100 * c.have.Y, 100 * c.have.Z}, 5.1e-5, c.heading)
	}
	// ICC.1 rounds D50 to its own s15Fixed16 numbers.
	d50 := WhiteD50()
	require.InDeltaSlice(t, []float64{.9642, 1, .8249}, []float64{d50.X, d50.Y, d50.Z}, 1e-15)
}
