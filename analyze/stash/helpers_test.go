package stash

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/piles"
	"greige/colorspace"
)

var ctx = context.Background()

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// plainCloth is a solid of a colour whose level is known.
func plainCloth(l, a, b float64) piles.Fabric {
	lab := colorspace.Lab{L: l, A: a, B: b}
	name := colorspace.Name(lab)
	return piles.Fabric{
		Scrap: 1, Outline: [][2]float64{{0, 0}, {100, 0}, {100, 80}, {0, 80}},
		Cloth: cloth.Cloth{Lab: lab, Lightness: l, Uncertainty: 2, Apart: .5, MunsellValue: l / 10, Character: cloth.Solid,
			Temperature: colorspace.Temperature("warm"), Name: name,
			Colours: []cloth.Colour{{Lab: lab, Hex: lab.Linear().Hex(), Share: 1, Name: name}}},
	}
}

// thousandth is v as JSON keeps it of a colour, and a little coarser.
func thousandth(v float64) float64 { return math.Round(v*1e3) / 1e3 }

// printOf is a two-ink print on the mean of both by share.
func printOf(ground, figure colorspace.Lab, share float64) piles.Fabric {
	mix := func(a, b float64) float64 { return thousandth(a*(1-share) + b*share) }
	f := plainCloth(mix(ground.L, figure.L), mix(ground.A, figure.A), mix(ground.B, figure.B))
	f.Character = cloth.Print
	f.Colours = []cloth.Colour{
		{Lab: ground, Hex: ground.Linear().Hex(), Share: 1 - share, Name: colorspace.Name(ground)},
		{Lab: figure, Hex: figure.Linear().Hex(), Share: share, Name: colorspace.Name(figure)}}
	return f
}

// photoOf is a photo of some bytes of its own.
func photoOf(name string, fabrics ...piles.Fabric) Photo {
	for i := range fabrics {
		fabrics[i].Scrap = i + 1
	}
	return Photo{Hash: sha256.Sum256([]byte(name)), Name: name, Added: noon, Light: light.Record{Photo: name, Method: "sheet"}, Fabrics: fabrics}
}

// swatch is a small picture of a colour.
func swatch(side int, l colorspace.Lab) *cloth.Swatch {
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	grey := image.NewGray(img.Rect)
	c := l.Linear().SRGB8()
	for i := range side * side {
		img.Set(i%side, i/side, color.RGBA{c[0], c[1], c[2], 255})
		grey.Pix[i] = c[1]
	}
	encode := func(m image.Image) []byte {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, m, nil); err != nil {
			panic(err)
		}
		return b.Bytes()
	}
	return &cloth.Swatch{W: side, H: side, Colour: encode(img), Grey: encode(grey), Shape: [][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}}}
}

// drawn is a cloth at random.
func drawn(r *rand.Rand) piles.Fabric {
	any := func() colorspace.Lab {
		h, c := 2*math.Pi*r.Float64(), 50*r.Float64()
		return colorspace.Lab{L: thousandth(10 + 85*r.Float64()), A: thousandth(c * math.Cos(h)), B: thousandth(c * math.Sin(h))}
	}
	f := plainCloth(0, 0, 0)
	if r.IntN(2) == 0 {
		l := any()
		f = plainCloth(l.L, l.A, l.B)
	} else {
		f = printOf(any(), any(), .1+.4*r.Float64())
		for range r.IntN(4) {
			l := any()
			f.Colours = append(f.Colours, cloth.Colour{Lab: l, Hex: l.Linear().Hex(), Share: .05, Name: colorspace.Name(l)})
		}
	}
	f.Spread, f.AreaCM2 = 5*r.Float64(), 50+400*r.Float64()
	f.Uncertainty = 1 + 3*r.Float64()
	return f
}

func create(t testing.TB) *Stash {
	t.Helper()
	s, err := open(filepath.Join(t.TempDir(), "stash.db"), true, options{wait: patience, steps: steps, careless: true})
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

func add(t testing.TB, s *Stash, photos ...Photo) []Added {
	t.Helper()
	a, err := s.Add(ctx, photos)
	require.NoError(t, err)
	return a
}

func find(t testing.TB, s *Stash, q Query) *Found {
	t.Helper()
	f, err := s.Find(ctx, q)
	require.NoError(t, err)
	return f
}

func hitIDs(f *Found) (told, untold []string) {
	told, untold = []string{}, []string{}
	for _, h := range f.Hits {
		if h.Untold {
			untold = append(untold, h.ID())
		} else {
			told = append(told, h.ID())
		}
	}
	return told, untold
}

// numbered are names for photos.
func numbered(i int) string { return fmt.Sprintf("photo-%d.jpg", i) }
