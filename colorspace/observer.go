package colorspace

import "sync"

// observerFrom and observerStep are the wavelengths of observer's rows, in nm.
const observerFrom, observerStep = 380., 5.

// observer are the colour-matching functions x, y, z of the CIE 1931 standard
// observer (2 degrees), 380 to 780 nm in steps of 5 nm.
// Source: CIE 15 table T.4 (ISO/CIE 11664-1), four to six decimals as in ASTM
// E308-01 table 1.
var observer = sync.OnceValue(func() (rows [][3]float64) {
	for _, line := range readTable("cie1931_observer.csv") {
		rows = append(rows, [3]float64(figures(line[1:])))
	}
	return rows
})
