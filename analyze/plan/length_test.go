package plan

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseLength(t *testing.T) {
	for text, want := range map[string]Length{
		"2in": 2 * Inch, "2 1/2in": 5 * Inch / 2, "2.5 in": 5 * Inch / 2, `1/4"`: Inch / 4, "1 inch": Inch, "3 inches": 3 * Inch,
		"5cm": 5 * Centimetre, "7.5mm": 75 * Millimetre / 10, "50 MM": 5 * Centimetre, "0.5cm": 5 * Millimetre,
	} {
		l, metric, err := ParseLength(text)
		require.NoError(t, err, text)
		require.Equal(t, want, l, text)
		require.Equal(t, want%Millimetre == 0 && want%Inch != 0 || want == 75*Millimetre/10, metric, text)
	}
	for text, says := range map[string]string{
		"2": "no unit", "": "no unit", "in": "no size", "cm": "no size", "0in": "above 0", "-1in": "no size", "x in": "no size", "1e9in": "no size",
		"2 3in": "no size", "1 1/2 1/2in": "no size", "1/0in": "no size", "2000cm": "10 metres", "NaNcm": "no size",
	} {
		_, _, err := ParseLength(text)
		require.ErrorContains(t, err, says, text)
	}
}

func TestRulerShowsEighthsAndHalfCentimetres(t *testing.T) {
	r, err := NewRuler(false, Inch/4)
	require.NoError(t, err)
	require.Equal(t, Inch/8, r.Step)
	require.Equal(t, "2\u00a01/2\u00a0in", r.Say(5*Inch/2))
	require.Equal(t, Inch/4, r.Up(Inch/8+1))
	require.Equal(t, Inch/8, r.Near(Inch/8+Inch/17))
	require.Equal(t, "1\u00a03/8\u00a0yd", r.SayBought(Yard*11/8))
	m, err := NewRuler(true, 75*Millimetre/10)
	require.NoError(t, err)
	require.Equal(t, 5*Millimetre, m.Step)
	require.Equal(t, "6.5\u00a0cm", m.Say(65*Millimetre))
	// Seams of 6 mm ask for the millimetre lines.
	m, err = NewRuler(true, 6*Millimetre)
	require.NoError(t, err)
	require.Equal(t, Millimetre, m.Step)
	_, err = NewRuler(false, 6*Millimetre)
	require.ErrorContains(t, err, "--units cm")
	_, err = NewRuler(true, Inch/4)
	require.ErrorContains(t, err, "--units in")
}

func TestLengthsAsFigures(t *testing.T) {
	for want, l := range map[string]Length{"0": 0, "1/8": Inch / 8, "1/2": Inch / 2, "12": 12 * Inch, "2 3/4": 11 * Inch / 4, "2": 5 * Centimetre} {
		require.Equal(t, want, l.Inches())
	}
	data, err := json.Marshal(5 * Inch / 2)
	require.NoError(t, err)
	require.JSONEq(t, `{"cm":6.35,"inches":"2 1/2"}`, string(data))
}
