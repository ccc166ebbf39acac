package piles

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"greige/colorspace"
)

// Bounds of what a fabric read from a file may hold.
const (
	mostFabrics = 20000  // of a sort
	mostText    = 4096   // bytes of one name or note
	mostColours = 256    // of a cloth
	mostPoints  = 100000 // of its outline and its holes
)

// Check refuses, in words, what no sort can have written: a figure out of its
// range, a pile that there is not, texts or lists too long to be any.
func (f *Fabric) Check() error {
	if f.ID == "" || len(f.ID) > 64 {
		return errors.New("it needs an id of 1 to 64 bytes")
	}
	for _, s := range []string{f.Photo, f.Note, f.Name, f.Remark, string(f.Character), string(f.Temperature)} {
		if len(s) > mostText {
			return fmt.Errorf("a text of %d bytes; at most %d are read", len(s), mostText)
		}
	}
	switch f.Pile {
	case "", Light, Medium, Dark:
	default:
		return fmt.Errorf("there is no pile %s", strconv.Quote(Short(string(f.Pile))))
	}
	ranges := []struct {
		name           string
		value, low, up float64
	}{
		{"lightness", f.Lightness, 0, 100},
		{"uncertainty", f.Uncertainty, 0, 100},
		{"uncertainty_apart", f.Apart, 0, 100},
		{"munsell_value", f.MunsellValue, 0, 10},
		{"spread", f.Spread, 0, 100},
		{"looks_like", f.LooksLike, 0, 150},
		{"clipped", f.Clipped, 0, 1},
		{"rank", float64(f.Rank), 0, mostFabrics},
		{"scrap", float64(f.Scrap), 0, 1e6},
		{"area_cm2", f.AreaCM2, 0, 1e9},
	}
	for _, r := range ranges {
		if !(r.value >= r.low && r.value <= r.up) {
			return fmt.Errorf("%s is %v, outside %v to %v", r.name, r.value, r.low, r.up)
		}
	}
	if err := CheckLab(f.Lab); err != nil {
		return err
	}
	// Rounded figures may differ in the last digit; a file made by hand that
	// says two things is another matter.
	if math.Abs(f.Lab.L-f.Lightness) > .05 {
		return fmt.Errorf("lightness is %v, but lab says %v", f.Lightness, f.Lab.L)
	}
	points := len(f.Outline) + len(f.Holes)
	for _, h := range f.Holes {
		points += len(h)
	}
	if len(f.Colours) > mostColours || points > mostPoints || len(f.TiedWith) > mostFabrics {
		return errors.New("longer lists than a sort writes")
	}
	for _, c := range f.Colours {
		if err := CheckLab(c.Lab); err != nil {
			return err
		}
		if !(c.Share >= 0 && c.Share <= 1) {
			return fmt.Errorf("the share of a colour is %v, outside 0 to 1", c.Share)
		}
		if len(c.Hex) > 16 || len(c.Name) > mostText {
			return errors.New("a colour with too long a name")
		}
	}
	return nil
}

// CheckLab says what is wrong with a colour that a file gives: CIELAB, L* 0 to 100.
func CheckLab(l colorspace.Lab) error {
	// The a* and b* of real surfaces stay well within 130; wide gamuts reach 200.
	if !(l.L >= 0 && l.L <= 100.0001 && math.Abs(l.A) <= 200 && math.Abs(l.B) <= 200) {
		return fmt.Errorf("lab is [%v, %v, %v], outside 0 to 100 and -200 to 200", l.L, l.A, l.B)
	}
	return nil
}

// Short is text from outside, short enough for a message.
func Short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
