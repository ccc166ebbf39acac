package scene

import (
	"fmt"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"greige/colorspace"
)

// Demo is the invented scene of the demo: the raffle top of a community hall.
// Photos, in this order: "basket.jpg", scraps on a white board with a sheet
// of paper; "wall.jpg", the nine-patch top on the wall with two patches
// misplaced; "border.jpg", the border print; "stash-1.jpg" and on, close-ups.
// Border and stash have a card in nearly the same place. Size 1 gives photos
// of some 3 to 5 megapixels; so many workers take a photo each, 0 is one for
// each processor. It fails only on a size out of range.
func Demo(size float64, workers int) ([]Shot, error) {
	if !(size > 0 && size <= 4) {
		return nil, fmt.Errorf("scene: a demo of size %v", size)
	}
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	todo := hall(size)
	out := make([]Shot, len(todo))
	var g errgroup.Group
	g.SetLimit(workers)
	for i, photo := range todo {
		g.Go(func() (err error) {
			out[i], err = photo.Shoot()
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	return out, nil
}

// DemoStashCM is how wide the close-ups of the demo's stash are, in cm.
const DemoStashCM = 32

// shooter is anything that a photo can be taken of.
type shooter interface{ Shoot() (Shot, error) }

func lab(l, a, b float64) colorspace.Lab { return colorspace.Lab{L: l, A: a, B: b} }

// hall sets the demo's scene up.
func hall(size float64) []shooter {
	bone, cream, straw, sky := lab(93, 0, 6), lab(89, 1, 12), lab(81, 3, 29), lab(78, -5, -11)
	oat, stone, pewter, charcoal := lab(77, 3, 13), lab(61, 1, 7), lab(49, -1, -5), lab(23, 0, -3)
	rose, brick, rust, wine := lab(63, 23, 8), lab(40, 37, 24), lab(47, 34, 40), lab(25, 31, 9)
	sage, moss, bottle, teal := lab(66, -10, 15), lab(41, -12, 25), lab(25, -17, 6), lab(41, -22, -11)
	ink, storm, plum, heather := lab(22, 3, -24), lab(43, -4, -20), lab(24, 20, -13), lab(55, 16, -15)
	mustard, chestnut := lab(66, 13, 54), lab(31, 18, 18)

	cloth := func(scale float64, c Cloth) Cloth { c.Scale = scale; return c }
	of := func(l colorspace.Lab, share float64) Ink { return Ink{Lab: l, Share: share} }
	scraps := []Cloth{
		NewCloth("bone pin dots", PinDots, bone, of(oat, .14)),
		NewCloth("cream with sprigs", Sprigs, cream, of(moss, .12), of(rose, .08), of(mustard, .01)),
		NewCloth("straw ticking", Stripe, straw, of(bone, .3), of(rust, .06)),
		NewCloth("pale sky dots", Dots, sky, of(bone, .16)),
		NewCloth("oat scroll", Scroll, oat, of(lab(71, 4, 16), .35)),
		NewCloth("stone plaid", Plaid, stone, of(cream, .3), of(charcoal, .07)),
		cloth(.5, NewCloth("brick gingham", Gingham, bone, of(brick, .5))),
		NewCloth("old rose leaves", Leaves, rose, of(lab(56, 26, 9), .3)),
		NewCloth("sage leaves", Leaves, sage, of(lab(58, -12, 17), .3)),
		cloth(1.6, NewCloth("mustard sprigs", Sprigs, mustard, of(chestnut, .13), of(bone, .07))),
		cloth(1.8, NewCloth("heather sprigs", Sprigs, heather, of(plum, .14), of(bone, .06))),
		NewCloth("storm ticking", Stripe, storm, of(bone, .16), of(sky, .12)),
		NewCloth("teal", Solid, teal),
		NewCloth("rust scroll", Scroll, rust, of(lab(39, 33, 32), .35)),
		cloth(3.6, NewCloth("moss garden", LargeFigures, moss, of(mustard, .12), of(sage, .16), of(rust, .05), of(bone, .04))),
		cloth(.8, NewCloth("pewter dots", Dots, pewter, of(charcoal, .14))),
		NewCloth("ink dots", Dots, ink, of(cream, .09)),
		NewCloth("plum scroll", Scroll, plum, of(lab(30, 23, -15), .35)),
		NewCloth("bottle green", Solid, bottle),
		NewCloth("charcoal pinstripe", Stripe, charcoal, of(stone, .08)),
		cloth(1.7, NewCloth("wine sprigs", Sprigs, wine, of(rose, .1), of(moss, .07))),
		cloth(4.5, NewCloth("chestnut plaid", Plaid, chestnut, of(bottle, .3), of(mustard, .05))),
		cloth(2.2, NewCloth("black sprays on cream", HighContrast, cream, of(charcoal, .36))),
		cloth(5, NewCloth("ink garden", LargeFigures, ink, of(rose, .18), of(storm, .16), of(brick, .06), of(cream, .04), of(mustard, .015))),
	}
	// Of the first sixty cameras, this is among the nearest to the mean: with the
	// white patch for a card it errs on the 24-patch chart by 4.1 L* (root mean
	// square), where the median of all is 5.5.
	phone := Phone().Real(42)
	phone.Auto, phone.Bias, phone.Protect = .6, 1, .01
	px := func(n float64) int { return max(int(math.Round(n*size)), 64) }
	lamp := Light{Lamp: Bulb, From: 232, Ratio: 1.7, Vignette: .08, Kelvin: 3100, Balance: .86, Lux: 260}
	lamp.Shadows = []Shadow{{X: .98, Y: .98, W: .5, H: .3, Angle: 35, Depth: .14, Soft: .2}}
	basket := Table{
		Take:    Take{Name: "basket.jpg", Seed: 33, Width: px(2400), Height: px(1800), View: View{Tilt: 4, Side: -2}, Light: lamp, Camera: phone, Workers: 1},
		WidthCM: 84, Ground: Backdrop{Lab: lab(95, 0, 0)}, Cloths: scraps, Gap: .018, Turn: 25, Margin: .025,
		Cards:  []Paper{{X: .885, Y: .125, W: 14.8, H: 10.5, Angle: 3}},
		Things: []Thing{{Kind: Scissors, X: .09, Y: .83, Angle: 28}},
	}
	window := Light{Lamp: Window, From: 190, Ratio: 1.55, Vignette: .08, Kelvin: 5200, Balance: .75, Lux: 180}
	design := Design{
		Seed: 6, Repeat: NinePatch, Rows: 15, Cols: 15, Alternate: true,
		Lights: []int{0, 1, 2, 3, 4}, Darks: []int{16, 17, 18, 19, 20, 21, 13}, Planted: 2,
	}
	wall := Top{
		Take: Take{Name: "wall.jpg", Seed: 5, Width: px(2100), Height: px(2200), View: View{Tilt: 6, Side: 4, Roll: -1.2}, Light: window, Camera: phone, Workers: 1},
		Plan: design.Plan(), Cloths: scraps, PatchCM: 5, Margin: .055, Ground: Backdrop{Ground: Wall, Lab: lab(84, 0, 5)},
		Wobble: .05, Sag: .012,
	}
	// Close-ups under the window, the card held at the right edge by hand.
	near := window
	near.From, near.Ratio, near.Vignette = 210, 1.4, .12
	card := func(n int) []Paper {
		return []Paper{{X: .9 + .006*lattice(9, n, 0), Y: .5 + .012*lattice(9, n, 1), W: 5.4, H: 8.5, Angle: 2.5 * lattice(9, n, 2)}}
	}
	take := func(name string, n int) Take {
		return Take{Name: name, Seed: uint64(70 + n), Width: px(2000), Height: px(1500), Light: near, Camera: phone, Workers: 1}
	}
	print := NewCloth("spruce border", BorderPrint, lab(24, -15, -8),
		of(lab(54, 42, 24), .13), of(lab(50, -15, 27), .17), of(mustard, .07), of(lab(74, 20, 10), .05), of(lab(62, -8, -23), .045), of(lab(85, 3, 27), .02))
	print.Scale = 24
	out := []shooter{basket, wall, Border{Take: take("border.jpg", 0), Print: print, WidthCM: 32, Cards: card(0)}}
	for i, c := range []Cloth{
		NewCloth("cream leaves", Leaves, lab(88, 2, 14), of(lab(82, 3, 17), .3)),
		NewCloth("old rose dots", Dots, lab(62, 24, 8), of(lab(86, 6, 10), .12)),
		cloth(1.9, NewCloth("moss sprigs", Sprigs, lab(42, -13, 23), of(lab(64, -10, 20), .12), of(mustard, .05))),
		NewCloth("mustard scroll", Scroll, mustard, of(lab(60, 15, 50), .35)),
		NewCloth("storm blue dots", Dots, lab(52, -5, -21), of(lab(84, -2, -4), .1)),
		NewCloth("deep spruce", Solid, lab(23, -14, -7)),
		cloth(.9, NewCloth("turquoise gingham", Gingham, lab(90, -2, 0), of(lab(56, -32, -12), .5))),
		cloth(4, NewCloth("wine garden", LargeFigures, lab(28, 32, 8), of(rose, .16), of(moss, .16), of(lab(84, 4, 16), .06))),
	} {
		out = append(out, Closeup{Take: take(fmt.Sprintf("stash-%d.jpg", i+1), i+1), Cloth: c, WidthCM: DemoStashCM, Turn: 6 * lattice(4, i, 0), Cards: card(i + 1), Wrinkle: .025})
	}
	return out
}
