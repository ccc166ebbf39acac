package light_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/scene"
)

const saidSharp = "sharp edge of a shadow"

// Half of a top in a sharp shadow: left alone and said so, whatever hangs
// behind it, and what is said of the figures holds.
func TestSharpShadowOnTop(t *testing.T) {
	for i, ground := range []scene.Ground{scene.Wall, scene.Flannel, scene.Carpet} {
		for _, margin := range []float64{0, .06} {
			top := aTop(i+1, 800, ground, margin, scene.NinePatch)
			top.Light.Shadows = []scene.Shadow{{X: .5, Y: .5, Angle: 20 + 100*float64(i), Depth: .4, Soft: .008, Half: true}}
			s, err := top.Shoot()
			require.NoError(t, err)
			e := evened(t, open(t, s), light.Options{}, light.Top)
			name := fmt.Sprint(ground, " ", margin)
			require.Contains(t, e.Record.Note, "two lights", name)
			require.Contains(t, e.Record.Advice, "out of the light's way")
			require.Equal(t, "none", e.Record.Method)
			require.Same(t, e.Photo.Picture, e.Picture)
			var outlines [][][2]float64
			for _, q := range s.Truth.Grid.Patches {
				outlines = append(outlines, q.Outline)
			}
			require.False(t, e.LevelTop(outlines))
			_, inside := misses(level(measure(t, s, e)))
			require.Greater(t, inside, .9, name)
		}
	}
}

// An arm's shadow across scraps on a sheet: it is said, the pieces in it are
// less sure and their intervals hold; those out of it are as sure as before.
func TestSharpShadowOnScraps(t *testing.T) {
	table := scene.Table{
		Take:   scene.Take{Seed: 7, Width: 800, Workers: 2, Light: lamps(7), Camera: camera()},
		Cloths: basket(14, 7), WidthCM: 80,
	}
	bare, err := table.Shoot()
	require.NoError(t, err)
	e := evened(t, open(t, bare), light.Options{}, light.ScrapsOnGround)
	require.NotContains(t, e.Record.Note, saidSharp)
	without := measure(t, bare, e)

	table.Light.Shadows = []scene.Shadow{{X: .5, Y: 1, W: .24, H: 1.3, Angle: 14, Depth: .35, Soft: .008}}
	s, err := table.Shoot()
	require.NoError(t, err)
	e = evened(t, open(t, s), light.Options{}, light.ScrapsOnGround)
	require.Contains(t, e.Record.Note, saidSharp)
	require.Contains(t, e.Record.Advice, "out of the light's way")
	require.True(t, e.LevelKnown)
	with := measure(t, s, e)
	require.Len(t, with, len(without))
	dark, sure, held := 0, 0, 0
	for i, f := range with {
		miss := math.Abs(f.l - f.truth)
		if miss < f.half() {
			held++
		}
		if miss > 3 {
			dark++
		}
		if f.sigma < 1.2*without[i].sigma {
			sure++
		}
	}
	require.Positive(t, dark)
	require.GreaterOrEqual(t, held, len(with)-1) // one at the tip, where the edge is round
	require.Greater(t, sure, len(with)/4)
}

// Seams, sashing and borders run long and straight too, and are no shadows.
func TestSeamsAreNoShadows(t *testing.T) {
	for i, repeat := range []scene.Repeat{scene.Rails, scene.Stripes, scene.Checkerboard, scene.ThreeValues} {
		s := topShot(t, i+1, 640, scene.Flannel, .08, repeat)
		require.NotContains(t, evened(t, open(t, s), light.Options{}, light.Top).Record.Note, saidSharp, "%v", repeat)
	}
	for seed := range uint64(4) {
		top := scene.AnyTop(40 + seed)
		top.Width, top.Light.Shadows = 640, nil
		s, err := top.Shoot()
		require.NoError(t, err)
		require.NotContains(t, evened(t, open(t, s), light.Options{}, light.Top).Record.Note, saidSharp, "top %d", seed)
	}
}
