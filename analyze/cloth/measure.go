package cloth

import (
	"fmt"
	"image"
	"math"

	"greige/analyze/eye"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// sampleSide is the longest side, in pixels, of the copy of a piece on which
// its spread and its inks are looked for. Means are taken at full size.
const sampleSide = 360

// View is where the viewer stands.
type View struct {
	// PixelsPerDegree is how many pixels of the working picture one degree of
	// sight covers, greater than 0.
	PixelsPerDegree float64
	// Shown says that the page shows the photo as finely as a swatch would:
	// only a piece that a card lies on gets one.
	Shown bool
}

// Meter measures one piece after the other in the same memory. Its zero value
// is ready. One goroutine at a time may use it.
type Meter struct {
	eye    eye.Room
	inks   inkRoom
	inside []bool
	piece  photo.Picture
}

// Measure measures the piece that region covers in an evened photo. ok is
// false when the region holds no pixel. Who measures many uses a Meter.
func Measure(e *light.Even, region Region, view View) (c Cloth, ok bool) {
	return new(Meter).Measure(e, region, view)
}

// Measure is the function Measure.
func (m *Meter) Measure(e *light.Even, region Region, view View) (c Cloth, ok bool) {
	region = region.Without(e.Ignore)
	area := region.Area()
	if area < 1 {
		return Cloth{}, false
	}
	piece := cut(e.Picture, region, &m.piece)
	sample, weight := shrinkWithin(piece.picture, piece.weight, sampleSide)
	pieceView := view.PixelsPerDegree * float64(sample.W) / float64(piece.picture.W)

	swatch := piece.picture
	if weight == nil {
		swatch = sample // the same part of the photo, and smaller
	}

	clip := piece.clipping()
	mean := meanLight(sample, weight) // averaging by areas keeps the mean
	if clip.glare != nil {
		piece.weight = clip.glare
		sample, weight = eye.Shrink(piece.picture, piece.weight, sample.W, sample.H)
		mean = meanLight(sample, weight)
	}

	c.doubt(e, region, mean, area, clip)
	mean = e.Rendered(mean)
	c.Lab = mean.Lab()
	c.Lightness = c.Lab.L
	c.MunsellValue = colorspace.MunsellValue(mean.Y())
	c.Spread = m.eye.Spread(sample, weight, pieceView)
	c.Colours, _ = m.inks.mapInks(sample, m.insideOf(weight), InkOptions{})
	Render(c.Colours, e)
	c.Character = characterOf(c.Colours, c.Spread)
	c.Temperature = colorspace.TemperatureOf(c.Lab)
	c.Name = colorspace.Name(c.Lab)
	c.LooksLike = colorspace.PerceivedLightness(c.Lab)
	c.Clipped = clip.dark + clip.bright
	c.Remark, c.Bound = clip.remark, clip.bound
	if b := beside(region.Bounds, e.Ignore); b != region.Bounds {
		c.Swatch = NewSwatch(e.Picture.Crop(b), nil, swatchSide)
	} else if !view.Shown {
		c.Swatch = NewSwatch(swatch, nil, swatchSide)
	}
	return c, true
}

// piece is a region cut out of a picture.
type piece struct {
	picture      *photo.Picture
	weight       []float32 // nil for all of it
	dark, bright []uint8   // nil where nothing clipped
}

// cut copies the region's bounds out of p, into the memory of room; a region
// that is all of p shares it.
func cut(p *photo.Picture, r Region, room *photo.Picture) piece {
	q := piece{picture: p, weight: r.Weight, dark: p.Dark, bright: p.Bright}
	if r.Bounds == image.Rect(0, 0, p.W, p.H) {
		return q
	}
	q.picture = p.CropInto(room, r.Bounds)
	crop := func(src []uint8) []uint8 {
		if src == nil {
			return nil
		}
		out := make([]uint8, 0, r.Bounds.Dx()*r.Bounds.Dy())
		for y := r.Bounds.Min.Y; y < r.Bounds.Max.Y; y++ {
			out = append(out, src[y*p.W+r.Bounds.Min.X:y*p.W+r.Bounds.Max.X]...)
		}
		return out
	}
	q.dark, q.bright = crop(p.Dark), crop(p.Bright)
	return q
}

// meanLight is the light that the piece sends as a whole: the mean of linear
// light over its area (Murray 1936, J. Franklin Inst. 221:721).
func meanLight(p *photo.Picture, weight []float32) colorspace.Linear {
	var r, g, b, sum float64
	for i := range p.W * p.H {
		a := 1.0
		if weight != nil {
			a = float64(weight[i])
		}
		r += a * float64(p.Pix[3*i])
		g += a * float64(p.Pix[3*i+1])
		b += a * float64(p.Pix[3*i+2])
		sum += a
	}
	if sum == 0 {
		return colorspace.Linear{}
	}
	return colorspace.Linear{r / sum, g / sum, b / sum}
}

// Render takes out of colours, found in the picture of e, what the camera does to
// colours.
func Render(colours []Colour, e *light.Even) {
	for i, k := range colours {
		colours[i] = colourOf(e.Rendered(k.Lab.Linear()), k.Share)
	}
}

// doubt fills in how unsure the piece's lightness is.
func (c *Cloth) doubt(e *light.Even, r Region, mean colorspace.Linear, area float64, clip clipping) {
	y := max(mean.Y(), 1e-4)
	// Pixel noise averages out over the piece; a tenth of the light is noisy
	// indeed, and neighbouring pixels of a JPEG share theirs (8 x 8 blocks).
	noise := 0.1 * 8 / math.Sqrt(area)
	d, own := e.Doubt(r.Bounds, mean, clip.share(), noise)
	c.Doubt, c.Lit, c.Own = d, e.Lit(d), lightnessPerShare(y)*own
	v := sq(c.Own)
	for _, x := range c.Lit {
		v += sq(x)
	}
	c.Apart = 1.96*math.Sqrt(v) + clip.doubt(y)
	c.Uncertainty = d.Half(e.References())
	c.TooLight = e.TooLight(mean, d)
}

// lightnessPerShare is how much L* changes when the luminance changes by its
// own share: dL*/d ln Y.
func lightnessPerShare(y float64) float64 {
	if y > 216.0/24389 {
		return 116.0 / 3 * math.Cbrt(y)
	}
	return y * 24389 / 27
}

func sq(v float64) float64 { return v * v }

// clipping is what of a piece stood at the ends of the file's scale.
type clipping struct {
	dark, bright float64 // shares of its area
	// glare is the piece's weight without a gloss highlight; nil when there is
	// none that can be left out.
	glare         []float32
	remark, bound string
}

// Clipped shares, of the piece, from which on its figure is marked.
const (
	markBright = 0.02
	// Less than this, burnt out, moves no mean by 0.1 L*.
	worthLooking = 0.0005
	markDark     = 0.20
	// A highlight can be left out while at least this much of the piece remains.
	enoughLeft = 0.70
)

func (p piece) clipping() clipping {
	var c clipping
	if p.dark == nil && p.bright == nil {
		return c
	}
	share := func(plane []uint8) float64 {
		if plane == nil {
			return 0
		}
		var sum, all float64
		for i, v := range plane {
			a := 1.0
			if p.weight != nil {
				a = float64(p.weight[i])
			}
			sum += a * float64(v)
			all += a * 255
		}
		if all == 0 {
			return 0
		}
		return sum / all
	}
	c.dark, c.bright = share(p.dark), share(p.bright)
	if c.bright >= worthLooking {
		if w, left := p.withoutGlare(); w != nil && left >= enoughLeft {
			c.glare = w
			c.remark = fmt.Sprintf("a shine on it was left out (%.0f %% of the piece)", 100*(1-left))
			return c
		}
	}
	switch {
	case c.bright >= markBright:
		c.remark, c.bound = fmt.Sprintf("%.0f %% of it is burnt out in the photo: it may be lighter than its figure", 100*c.bright), "above"
	case c.dark >= markDark:
		c.remark, c.bound = fmt.Sprintf("%.0f %% of it is pure black in the photo: its darkest parts cannot be told apart", 100*c.dark), "below"
	}
	return c
}

// share is how much of the piece stands at the ends of the scale and counts.
func (c clipping) share() float64 {
	if c.glare != nil {
		return 0
	}
	return max(c.bright, c.dark)
}

// doubt is what clipping adds to half of the 95 % interval, in L*, for a
// piece of luminance y. Burnt-out cloth may send a quarter more light than the
// scale could hold; what a phone's curve crushes to black may have sent half a
// percent of white's light (common practice, no source).
func (c clipping) doubt(y float64) float64 {
	if c.glare != nil {
		return 0.5
	}
	up := colorspace.Lightness(y*(1+.25*c.bright)) - colorspace.Lightness(y)
	const crushed = 0.005
	down := colorspace.Lightness(y+c.dark*crushed) - colorspace.Lightness(y)
	return up + down
}
