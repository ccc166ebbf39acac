package analyze

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/analyze/scraps"
)

// piece is a piece of cloth in a photo, found or given.
type piece struct {
	scraps.Piece
	number int // in its photo as it was found, from 1; 0: it was not found
	given  bool
}

// sameOverlap is the share of the smaller of two outlines from which on they
// are one piece: two pieces cannot lie in one place.
const sameOverlap = .5

// putRight is what lies in a photo once given pieces have taken the place of
// those found. A given piece stands for every found one with which it shares
// half of the smaller one's area, and has the first one's number; one that is
// no cloth takes them away. The other pieces stay as they are. Cloths were
// numbered before what may be none; numbers is how many pieces were found that
// can be measured, and cloths how many of these are cloth.
func putRight(found []scraps.Piece, given []GivenPiece, p *photo.Photo, ignore []image.Rectangle) (out []piece, numbers, cloths int) {
	k := float64(max(p.Reduction, 1))
	taken := make([]bool, len(found))
	number := make([]int, len(found))
	for _, doubtful := range []bool{false, true} {
		for i, f := range found {
			if f.Doubtful == doubtful && f.Region.Without(ignore).Area() >= 1 {
				numbers++
				number[i] = numbers
			}
		}
		if !doubtful {
			cloths = numbers
		}
	}
	named := map[int]bool{}
	for _, g := range given {
		outline := divided(g.Outline, k, k)
		all := cloth.Polygon(outline, p.Picture.W, p.Picture.H)
		now := piece{given: true}
		now.Outline = outline
		for i, f := range found {
			if !overlap(all, cloth.Polygon(f.Outline, p.Picture.W, p.Picture.H)) {
				continue
			}
			taken[i] = true
			if now.number == 0 && !named[number[i]] {
				now.number = number[i]
			}
			for _, hole := range f.Holes {
				if !slices.ContainsFunc(hole, func(q [2]float64) bool { return !raster.Contains(outline, q) }) {
					now.Holes = append(now.Holes, hole)
				}
			}
			if sameOutline(g.Outline, f.Outline, k) {
				now.Outline, now.Region = f.Outline, f.Region
			}
		}
		if !g.Cloth {
			continue
		}
		named[now.number] = now.number != 0
		if now.Region.Bounds.Empty() {
			now.Region = scraps.Inside(outline, p.Picture.W, p.Picture.H)
		}
		out = append(out, now)
	}
	for i, f := range found {
		if !taken[i] {
			out = append(out, piece{Piece: f, number: number[i]})
		}
	}
	// As they were found, and what was not found after that, as it was given.
	slices.SortStableFunc(out, func(a, b piece) int { return cmp.Compare(uint(a.number-1), uint(b.number-1)) })
	return out, numbers, cloths
}

// overlap tells whether two pieces lie in one place.
func overlap(a, b cloth.Region) bool {
	in := a.Bounds.Intersect(b.Bounds)
	if in.Empty() {
		return false
	}
	both := 0.0
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			both += weightAt(a, x, y) * weightAt(b, x, y)
		}
	}
	return both > sameOverlap*min(a.Area(), b.Area())
}

// sameOutline: a is b as the figures tell it, in pixels of a photo that was
// reduced by k.
func sameOutline(a, b [][2]float64, k float64) bool {
	return slices.EqualFunc(a, b, func(p, q [2]float64) bool {
		return math.Abs(p[0]-q[0]*k) < .011 && math.Abs(p[1]-q[1]*k) < .011
	})
}

// hold is how the settings stand for a photo in which something was put right.
func (s Settings) hold(given PhotoCorrections) Settings {
	if given.Card != nil {
		s.Light.Cards = []light.Card{{Place: rectangleOf(*given.Card), Lightness: given.CardLightness}}
	}
	if given.CardLightness > 0 {
		s.Light.CardLightness = given.CardLightness
	}
	return s
}

// known is the sum of a photo and what was put right in it. The sum is "" where
// neither corrections nor a session ask for it.
func (s Settings) known(src Source) (sum string, given PhotoCorrections, err error) {
	if s.session == nil && s.Corrections.empty() {
		return "", given, nil
	}
	if sum, err = s.session.sum(src, s.Limits); err != nil {
		return "", given, err
	}
	return sum, s.Corrections.Of(sum), nil
}

// Numbers puts right by number what a sort has found: which pieces are cloth,
// which are none, and which are one piece together.
type Numbers struct {
	Cloth, NotCloth []int
	Join            [][]int // two numbers or more each
}

// NumbersError says which of the Numbers does not fit what was found.
type NumbersError struct{ reason string }

func (e *NumbersError) Error() string { return e.reason }

func (n Numbers) empty() bool { return len(n.Cloth)+len(n.NotCloth)+len(n.Join) == 0 }

// corrected is before with what numbers puts right in r, a sort that was done
// with before. sums are those of the photos by their names. The error is a
// *NumbersError.
func (r *Result) corrected(before *Corrections, n Numbers, sums map[string]string) (*Corrections, error) {
	pieces := map[int]*piles.Fabric{}
	most := 0
	for i := range r.Sort.Fabrics {
		f := &r.Sort.Fabrics[i]
		if id, err := strconv.Atoi(f.ID); err == nil {
			pieces[id], most = f, max(most, id)
		}
	}
	next := &Corrections{}
	if before != nil {
		next.Photos = slices.Clone(before.Photos)
	}
	said := map[int]bool{}
	take := func(id int) (*piles.Fabric, error) {
		switch f := pieces[id]; {
		case f == nil:
			return nil, &NumbersError{fmt.Sprintf("there is no piece number %d: the numbers run from 1 to %d", id, most)}
		case said[id]:
			return nil, &NumbersError{fmt.Sprintf("number %d is put right twice", id)}
		default:
			said[id] = true
			return f, nil
		}
	}
	one := func(ids []int, cloth bool) error {
		for _, id := range ids {
			f, err := take(id)
			if err != nil {
				return err
			}
			next = next.withPiece(*f, sums[f.Photo], GivenPiece{f.Outline, cloth})
		}
		return nil
	}
	if err := one(n.Cloth, true); err != nil {
		return nil, err
	}
	if err := one(n.NotCloth, false); err != nil {
		return nil, err
	}
	for _, ids := range n.Join {
		var parts []*piles.Fabric
		for _, id := range ids {
			f, err := take(id)
			if err != nil {
				return nil, err
			}
			if len(parts) > 0 && f.Photo != parts[0].Photo {
				return nil, &NumbersError{fmt.Sprintf("numbers %s and %s lie in two photos and cannot be one piece", parts[0].ID, f.ID)}
			}
			parts = append(parts, f)
		}
		outline := parts[0].Outline
		for _, f := range parts[1:] {
			outline = Joined(outline, f.Outline)
		}
		next = next.withPiece(*parts[0], sums[parts[0].Photo], GivenPiece{outline, true})
	}
	return next, nil
}

// withPiece adds a piece to what was put right in its photo.
func (c *Corrections) withPiece(f piles.Fabric, sum string, g GivenPiece) *Corrections {
	p := c.Of(sum)
	p.Photo, p.SHA256 = f.Photo, sum
	p.Pieces = append(slices.Clone(p.Pieces), g)
	return c.With(p)
}
