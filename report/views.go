package report

import (
	"encoding/json"
	"strconv"
	"strings"

	"greige/analyze"
	"greige/analyze/eye"
	"greige/analyze/piles"
	"greige/colorspace"
)

// view is a position of the switch. Live ones are computed in the page, so
// they are there only when its script is.
type view struct {
	Key   string
	Word  string // on the switch
	Short string // the same where there is little room
	Says  string // what is shown
	Away  bool   // it depends on the distance, which ends the sentence
	Live  bool
}

// views are the positions of the switch, in its order.
var views = []view{
	{Key: "colour", Word: "Colour", Says: "The cloth in its colours."},
	{Key: "grey", Word: "Grey", Says: "Only light and dark, as the eye weighs them."},
	{Key: "squint", Word: "Squint", Says: "As half closed eyes see it,", Away: true},
	{Key: "two", Word: "Two values", Short: "Two", Says: "Squinting, with only light and dark left,", Away: true, Live: true},
	{Key: "three", Word: "Three values", Short: "Three", Says: "Squinting, with only light, medium and dark left,", Away: true},
	{Key: "five", Word: "Five values", Short: "Five", Says: "Squinting, with five steps from light to dark left,", Away: true, Live: true},
	{Key: "weak", Word: "Red-green weak", Short: "Red-green", Says: "As those see it who can hardly tell red from green.", Live: true},
}

// viewSwitch is the switch and what belongs to it.
type viewSwitch struct {
	Views            []view
	Eye              string // what the page's script computes with, as JSON
	Distance         string // metres, for the slider
	Nearest, Distant string // its ends
	From             string // the distance in words
}

// The ends of the slider, in metres, unless the run's distance lies beyond.
const nearest, distant = 1, 5

func newSwitch(distance float64) viewSwitch {
	d := Finite(distance)
	if d <= 0 {
		d = 2.5
	}
	d = min(max(d, .1), 1000)
	return viewSwitch{Views: views, Eye: eyeNumbers(), From: "from " + metres(d),
		Distance: num(d), Nearest: num(min(nearest, d)), Distant: num(max(distant, d))}
}

// eyeNumbers is all that the page's script computes views with: the numbers
// of the rooms that this program itself uses, so that there is one truth.
func eyeNumbers() string {
	type kernel struct {
		Weight float64 `json:"weight"`
		Spread float64 `json:"spread"` // degrees
	}
	to := colorspace.XYZToOpponent().Mul(colorspace.LinearToXYZ())
	numbers := struct {
		Squinting  float64              `json:"squinting"`
		Kernels    [3][]kernel          `json:"kernels"`
		ToOpponent colorspace.Matrix    `json:"toOpponent"`
		ToLight    colorspace.Matrix    `json:"toLight"`
		Luminance  [3]float64           `json:"luminance"`
		Greys      map[string][]float64 `json:"greys"` // L* of the few values
		Deutan     colorspace.Matrix    `json:"deutan"`
		Protan     colorspace.Matrix    `json:"protan"`
	}{
		Squinting: eye.Squinting, ToOpponent: to, ToLight: to.Inverse(), Luminance: colorspace.LuminanceWeights(),
		Greys:  map[string][]float64{"two": eye.ValueGreys(2), "three": eye.ValueGreys(3), "five": eye.ValueGreys(5)},
		Deutan: colorspace.Deutan.Matrix(), Protan: colorspace.Protan.Matrix(),
	}
	for c, kernels := range eye.SquintKernels() {
		for _, k := range kernels {
			numbers.Kernels[c] = append(numbers.Kernels[c], kernel{k.Weight, k.SpreadDegrees})
		}
	}
	data, err := json.Marshal(numbers)
	if err != nil {
		panic(err) // constants of this program: this cannot fail for a user
	}
	return string(data)
}

// valueCuts are the lightnesses, L* from the lighter to the darker, at which a
// chapter's pictures and cut-outs change grey where they are shown in two,
// three or five values: natural breaks of its own cloths. Where those are too
// few or too alike there are fewer cuts.
type valueCuts struct{ Two, Three, Five []float64 }

func cutsOf(r *analyze.Result) valueCuts {
	var l []float64
	switch {
	case r.Sort != nil:
		for _, f := range r.Sort.Fabrics {
			if !f.Doubtful {
				l = append(l, Finite(f.Lightness))
			}
		}
	case r.Layout != nil:
		for _, p := range r.Layout.Patches {
			l = append(l, Finite(p.Lightness))
		}
	case r.Border != nil:
		for _, k := range r.Border.Palette {
			l = append(l, Finite(k.Lab.L))
		}
	case r.Kept != nil:
		for _, f := range r.Kept.Shown() {
			if !f.Untold {
				l = append(l, Finite(f.Lightness))
			}
		}
	case r.Plan != nil:
		for _, k := range r.Plan.Chosen {
			l = append(l, Finite(k.Lightness))
		}
	}
	c := valueCuts{Two: piles.Cuts(l, 2), Three: piles.Cuts(l, 3), Five: piles.Cuts(l, 5)}
	var piled []float64 // the piles themselves
	switch {
	case r.Sort != nil:
		piled = r.Sort.Cuts
	case r.Kept != nil:
		piled = r.Kept.Cuts
	}
	switch len(piled) {
	case 1:
		c.Two = piled
	case 2:
		c.Three = piled
	}
	return c
}

// valueHex is the grey of a lightness in the few values that cuts make.
func valueHex(lightness float64, cuts []float64) string {
	step := 0
	for step < len(cuts) && Finite(lightness) < cuts[step] {
		step++
	}
	return GreyHex(eye.ValueGreys(len(cuts) + 1)[step])
}

// words of the cuts for the page's script: numbers with spaces between them.
func cutWords(cuts []float64) string {
	out := make([]string, len(cuts))
	for i, c := range cuts {
		out[i] = strconv.FormatFloat(Finite(c), 'f', 3, 64)
	}
	return strings.Join(out, " ")
}
