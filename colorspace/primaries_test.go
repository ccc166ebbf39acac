package colorspace

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestMatricesAreDerivedFromThePrimaries(t *testing.T) {
	text := published(t, "01_matrices.txt")
	const lastDigit = 5.1e-11
	requireMatrix(t, matrixAfter(t, text, "derived from primaries:"), LinearToXYZ(), lastDigit)
	requireMatrix(t, matrixAfter(t, text, "inverse:"), LinearToXYZ().Inverse(), lastDigit)
	requireMatrix(t, matrixAfter(t, text, "linear Display P3 -> XYZ D65:"), DisplayP3.ToXYZ(), lastDigit)
	requireMatrix(t, matrixAfter(t, text, "linear Display P3 -> linear sRGB:"), DisplayP3.ToLinearSRGB(), lastDigit)
	requireMatrix(t, matrixAfter(t, text, "linear Adobe RGB (1998) -> XYZ D65:"), AdobeRGB.ToXYZ(), lastDigit)
	requireMatrix(t, matrixAfter(t, text, "linear Adobe RGB (1998) -> linear sRGB:"), AdobeRGB.ToLinearSRGB(), lastDigit)
	// The standard itself prints four digits.
	requireMatrix(t, matrixAfter(t, text, "IEC 61966-2-1 4-digit:"), SRGB.ToXYZ(), 1e-4)
}

func TestLuminanceWeightsAddUpToOne(t *testing.T) {
	w := LuminanceWeights()
	require.InDelta(t, 1, w[0]+w[1]+w[2], 1e-15)
}

func TestSpacesKeepTheirWhite(t *testing.T) {
	for _, s := range []Space{SRGB, DisplayP3, AdobeRGB} {
		w := s.ToXYZ().Apply([3]float64{1, 1, 1})
		require.InDeltaSlice(t, []float64{whiteD65.X, whiteD65.Y, whiteD65.Z}, w[:], 1e-14)
	}
	require.Equal(t, SRGB.Primaries(), Space(200).Primaries())
}

func TestInverse(t *testing.T) {
	requireMatrix(t, Matrix{{1}, {0, 1}, {0, 0, 1}}, XYZToOpponent().Mul(XYZToOpponent().Inverse()), 1e-14)
}
