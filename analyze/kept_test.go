package analyze

import (
	"context"
	"crypto/sha256"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/border"
	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/analyze/stash"
	"greige/colorspace"
)

// keep puts grey cloths of the given L* into a new stash, one a photo, each with
// its uncertainty.
func keep(t *testing.T, cloths ...[2]float64) *stash.Stash {
	t.Helper()
	s, err := stash.Create(filepath.Join(t.TempDir(), "stash.db"))
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	var photos []stash.Photo
	for i, c := range cloths {
		f := piles.Fabric{Scrap: 1, Group: i + 1, Cloth: cloth.Cloth{Lab: colorspace.Lab{L: c[0]}, Lightness: c[0], Uncertainty: c[1], Apart: .5, Character: cloth.Solid,
			Swatch: &cloth.Swatch{W: 1, H: 1, Colour: []byte("picture"), Grey: []byte("grey")}}}
		photos = append(photos, stash.Photo{Hash: sha256.Sum256(fmt.Append(nil, i)), Name: fmt.Sprintf("%d.jpg", i+1), Added: time.Unix(0, 0), Fabrics: []piles.Fabric{f}})
	}
	_, err = s.Add(context.Background(), photos)
	require.NoError(t, err)
	return s
}

// Cloths whose level is not known are left aside, and told; their numbers are
// given to no other.
func TestKeptClothsOfUnknownLevelAreLeftAside(t *testing.T) {
	s := keep(t, [2]float64{80, 2}, [2]float64{50, 22}, [2]float64{30, 3})
	r := &Result{}
	other := piles.Fabric{ID: "2", Photo: "sorted.jpg"}
	got, err := Settings{Distance: 2.5}.stashOf(context.Background(), "", given{known: []piles.Fabric{other}, kept: s}, r)
	require.NoError(t, err)
	var ids []string
	for _, f := range got {
		ids = append(ids, f.ID)
		assert.Zero(t, f.Group, "each is known by its own uncertainty")
	}
	assert.Equal(t, []string{"1", "3", "4"}, ids)
	assert.Equal(t, []string{"Of your three kept cloths one is left aside: its lightness is known too little to set it against this photo. The photo to take again first, with a sheet of white paper in it: 2.jpg (one cloth)"}, r.Notes)

	// Where there are no others they are taken, and it is said.
	r = &Result{}
	got, err = Settings{Distance: 2.5}.stashOf(context.Background(), "", given{kept: keep(t, [2]float64{50, 22}, [2]float64{60, 25})}, r)
	require.NoError(t, err)
	assert.Len(t, got, 2)
	assert.Contains(t, r.Notes[0], "take the nearness as a guess")
}

// Of a large stash the answer holds what it names, with pictures, and how many
// there were.
func TestNarrow(t *testing.T) {
	var many [][2]float64
	for i := range listed + 50 {
		many = append(many, [2]float64{float64(i) / 4, 2})
	}
	s := keep(t, many...)
	all, err := s.Cloths(context.Background())
	require.NoError(t, err)
	inks := border.Inks{Colours: []cloth.Colour{{Lab: colorspace.Lab{L: 40}, Share: 1, Name: "dark gray"}}, W: 1, H: 1, Of: []uint8{0}}
	b := border.Find(inks, all, 4, border.Wishes{})
	require.NoError(t, narrow(context.Background(), &b, s, nil))
	assert.Equal(t, len(all), b.StashSize)
	assert.Less(t, len(b.Stash), 40)
	in := map[string]bool{}
	for _, f := range b.Stash {
		in[f.ID] = true
		require.NotNil(t, f.Swatch, f.ID)
		assert.Equal(t, "picture", string(f.Swatch.Colour))
	}
	for _, n := range b.Matches[0].Fabrics {
		assert.True(t, in[n.ID])
	}
	for _, c := range b.Choice.Fabrics {
		assert.True(t, in[c.ID])
	}
}

// Of a large stash a top tries, of each L*, the three plainest and surest.
func TestFew(t *testing.T) {
	s := keep(t)
	var many []piles.Fabric
	for i := range 400 {
		many = append(many, piles.Fabric{ID: fmt.Sprint(i), Cloth: cloth.Cloth{Lightness: float64(i % 80), Spread: float64(i / 80)}})
	}
	assert.Len(t, few(many, nil), 400, "not one that was given")
	got := few(many, s)
	assert.Len(t, got, 240)
	for _, f := range got {
		assert.Less(t, f.Spread, 3.)
	}
	assert.Len(t, few(many[:listed], s), listed)
}

func TestAreaOfAnOutline(t *testing.T) {
	// A right triangle of 30 and 40 pixels of half a cm.
	assert.Equal(t, 150., areaCM2(&piles.Fabric{Outline: [][2]float64{{0, 0}, {30, 0}, {0, 40}}}, .5))
	assert.Equal(t, 150., areaCM2(&piles.Fabric{Outline: [][2]float64{{0, 40}, {30, 0}, {0, 0}}}, .5))
	assert.Zero(t, areaCM2(&piles.Fabric{Outline: [][2]float64{{0, 0}, {30, 0}, {0, 40}}}, 0))
	assert.Zero(t, areaCM2(&piles.Fabric{}, 1))
}
