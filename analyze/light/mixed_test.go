package light

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// What a lamp does to real surfaces, by their spectra: photographed through the
// standard observer and taken out component by component, a lamp's colour leaves
// the luminances of 13 coloured patches off by half of what the two descriptions
// of it are apart, as mixed / 1.96 has it for a standard uncertainty; and nearly
// all lie between the two.
func TestMixedIsWhatRealSurfacesNeed(t *testing.T) {
	f, err := os.Open("../../testdata/published/17_chart_spectra.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	table := make([][]float64, len(rows)-1) // nm, x, y, z, D65, patches
	for i, r := range rows[1:] {
		for _, cell := range r {
			v, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			table[i] = append(table[i], v)
		}
	}
	// under is what column k, 0 for a perfect white, sends back of a lamp.
	under := func(k int, lamp func(row []float64) float64) colorspace.XYZ {
		var sum [3]float64
		white := 0.0
		for _, row := range table {
			e, r := lamp(row), 1.0
			if k > 0 {
				r = row[k]
			}
			for j := range sum {
				sum[j] += e * r * row[1+j]
			}
			white += e * row[2]
		}
		return colorspace.XYZ{X: sum[0] / white, Y: sum[1] / white, Z: sum[2] / white}
	}
	daylight := func(row []float64) float64 { return row[4] }
	x, y := under(0, daylight).Chromaticity()
	require.InDelta(t, .3127, x, .002)
	require.InDelta(t, .3290, y, .002)
	for _, kelvin := range []float64{2856, 3400, 5000} {
		bulb := func(row []float64) float64 { // Planck's law, c2 of ITS-90
			return math.Pow(row[0]/560, -5) / (math.Exp(1.4388e7/(row[0]*kelvin)) - 1)
		}
		white := under(0, bulb).Linear()
		sq, mix, between, n := 0.0, 0.0, 0, 0
		for k := 5; k < len(table[0]); k++ {
			c := under(k, bulb).Linear()
			for j := range c {
				c[j] /= white[j]
			}
			off, m := math.Log(under(k, daylight).Y/c.Y()), mixed(white, c)
			sq, mix, n = sq+off*off, mix+m*m, n+1
			if off*m > 0 && math.Abs(off) < math.Abs(m) || math.Abs(off) < .02 {
				between++
			}
		}
		require.Equal(t, 13, n)
		require.InDelta(t, 1/1.96, math.Sqrt(sq/mix), .08, "%.0f K", kelvin)
		require.GreaterOrEqual(t, between, 12, "%.0f K", kelvin)
	}
}
