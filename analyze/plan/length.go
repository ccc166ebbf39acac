package plan

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"strings"
)

// Length is a length in nanometres: eighths of an inch and millimetres are
// both whole numbers of them, so that sizes add up to the last figure.
type Length int64

// Lengths to reckon with. An inch is 25.4 mm exactly (the international yard
// and pound agreement of 1959).
const (
	Millimetre Length = 1e6
	Centimetre Length = 1e7
	Inch       Length = 254e5
	Yard       Length = 36 * Inch
)

// longest bounds what may be given as a size: no top is wider than 10 m.
const longest = 1000 * Centimetre

// CM is l in centimetres.
func (l Length) CM() float64 { return float64(l) / float64(Centimetre) }

// Inches is l as the nearest eighth that a ruler shows: "2 1/2", "5/8", "12".
func (l Length) Inches() string { return fraction(l, Inch/8) }

// fraction writes l in units of 8 steps, to the nearest step.
func fraction(l, step Length) string {
	n := int64((2*l + step) / (2 * step))
	whole, part := n/8, n%8
	if part == 0 {
		return fmt.Sprint(whole)
	}
	over := int64(8)
	for part%2 == 0 {
		part, over = part/2, over/2
	}
	if whole == 0 {
		return fmt.Sprintf("%d/%d", part, over)
	}
	return fmt.Sprintf("%d %d/%d", whole, part, over)
}

// MarshalJSON writes {"cm": 6.35, "inches": "2 1/2"}: centimetres to a
// thousandth of a millimetre, inches to the nearest eighth.
func (l Length) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		CM     float64 `json:"cm"`
		Inches string  `json:"inches"`
	}{math.Round(l.CM()*1e4) / 1e4, l.Inches()})
}

// ParseLength reads a size with its unit: "2in", "2 1/2in", "2.5 in", "5cm",
// "7.5mm". metric says which of the two systems it was given in. Errors say
// what to give: no unit, no number, nothing above 0, above 10 m.
func ParseLength(s string) (l Length, metric bool, err error) {
	text := strings.ToLower(strings.TrimSpace(s))
	unit, size := Length(0), ""
	for _, u := range []struct {
		names []string
		unit  Length
	}{
		{[]string{"inches", "inch", "in", `"`}, Inch},
		{[]string{"mm"}, Millimetre},
		{[]string{"cm"}, Centimetre},
	} {
		for _, name := range u.names {
			if rest, ok := strings.CutSuffix(text, name); ok && unit == 0 {
				unit, size = u.unit, strings.TrimSpace(rest)
			}
		}
	}
	if unit == 0 {
		return 0, false, fmt.Errorf("%q has no unit: give a size such as 2in, \"2 1/2in\" or 5cm", s)
	}
	sum := new(big.Rat)
	fields := strings.Fields(size)
	for i, f := range fields {
		v, ok := new(big.Rat).SetString(f)
		if !ok || len(f) > 20 || strings.ContainsAny(f, "eEpPxX+-_") || i > 1 || i == 1 && !strings.Contains(f, "/") {
			return 0, false, fmt.Errorf("%q is no size: give one such as 2in, \"2 1/2in\" or 5cm", s)
		}
		sum.Add(sum, v)
	}
	sum.Mul(sum, new(big.Rat).SetInt64(int64(unit)))
	v, _ := sum.Float64()
	switch {
	case len(fields) == 0:
		return 0, false, fmt.Errorf("%q is no size: give one such as 2in, \"2 1/2in\" or 5cm", s)
	case v < 1:
		return 0, false, fmt.Errorf("%q: a size is above 0", s)
	case v > float64(longest):
		return 0, false, fmt.Errorf("%q: a size is at most 10 metres", s)
	}
	return Length(math.Round(v)), unit != Inch, nil
}

// Ruler is the ruler that cloth is cut by: the distance of its lines, and in
// which system it is written on.
type Ruler struct {
	Step   Length
	Metric bool
}

// NewRuler is the ruler for a seam: eighths of an inch or 5 mm (common
// practice, no source), or the millimetre lines where the seam asks for them.
// A seam whose two allowances lie on no line of the ruler is an error: every
// size cut with it would be off.
func NewRuler(metric bool, seam Length) (Ruler, error) {
	steps := []Length{Inch / 8}
	if metric {
		steps = []Length{5 * Millimetre, Millimetre}
	}
	for _, step := range steps {
		if 2*seam%step == 0 {
			return Ruler{step, metric}, nil
		}
	}
	if metric {
		return Ruler{}, fmt.Errorf("seams of %s cm make sizes that no ruler shows: give whole or half millimetres, such as --seam 7.5mm, or --units in", decimal(seam.CM()))
	}
	return Ruler{}, fmt.Errorf("seams of %s cm make sizes that no ruler in inches shows: give a sixteenth of an inch or a multiple of it, such as --seam 1/4in, or --units cm", decimal(seam.CM()))
}

// Up is the next line of the ruler from l on.
func (r Ruler) Up(l Length) Length { return (l + r.Step - 1) / r.Step * r.Step }

// Near is the line nearest to l; of two, the farther one.
func (r Ruler) Near(l Length) Length { return (2*l + r.Step) / (2 * r.Step) * r.Step }

// Shows tells whether l lies on a line.
func (r Ruler) Shows(l Length) bool { return l%r.Step == 0 }

// Say writes l in the ruler's unit: "2 1/2 in", "6.5 cm". What lies between
// two lines is written to the nearest eighth or millimetre.
func (r Ruler) Say(l Length) string { return r.Figure(l) + "\u00a0" + r.Unit() }

// Figure is Say without the unit. Its spaces do not break.
func (r Ruler) Figure(l Length) string {
	if r.Metric {
		return decimal(float64((2*l+Millimetre)/(2*Millimetre)) / 10)
	}
	return strings.ReplaceAll(l.Inches(), " ", "\u00a0")
}

// Unit is "in" or "cm".
func (r Ruler) Unit() string {
	if r.Metric {
		return "cm"
	}
	return "in"
}

// bought is the step in which cloth is bought: an eighth of a yard or 10 cm.
func (r Ruler) bought() Length {
	if r.Metric {
		return 10 * Centimetre
	}
	return Yard / 8
}

// SayBought writes a length of cloth as a shop sells it: "1 3/8 yd", "80 cm".
func (r Ruler) SayBought(l Length) string {
	if r.Metric {
		return r.Say(l)
	}
	return strings.ReplaceAll(fraction(l, Yard/8), " ", "\u00a0") + "\u00a0yd"
}

// decimal is v with as few decimals as it needs, at most two.
func decimal(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
}
