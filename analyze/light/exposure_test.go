package light

import (
	"image"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// The luminance that a record stands for, L = K F^2 / (t ISO) with K = 12.5
// (ISO 2720), for the rows of published.md's exposure table (F, t, ISO, L).
// A camera that exposes each to the same signal saw exactly these
// luminances, so the gains must be in their proportion.
func TestExposuresUndoExposure(t *testing.T) {
	rows := []struct{ f, t, iso, l float64 }{
		{1, 1, 100, .125}, {2.8, .01666667, 100, 58.8}, {4, .008, 200, 125}, {5.6, .01666667, 400, 58.8},
		{8, .004, 100, 2000}, {16, .008, 100, 4000}, {1.8, .03333333, 800, 1.5187}, {2, .02, 50, 50},
	}
	var records []photo.Record
	for i, r := range rows {
		// The bias is told in the file and already carried out by the time.
		records = append(records, photo.Record{Camera: "A", ExposureTime: r.t, FNumber: r.f, Sensitivity: r.iso, Bias: float64(i), HasBias: true})
	}
	fs := Exposures(records)
	product := 1.0
	for i, f := range fs {
		require.Equal(t, 1, f.Group)
		require.True(t, f.Known)
		require.InEpsilon(t, rows[i].l/rows[0].l, f.Gain/fs[0].Gain, 1e-4)
		product *= f.Gain
	}
	require.InDelta(t, 1, product, 1e-9)
}

// Where time and sensitivity are missing, brightness and bias stand in. The
// APEX values are those of the same table: Bv = Ev - Sv.
func TestExposuresByMeteredBrightness(t *testing.T) {
	fs := Exposures([]photo.Record{
		{Camera: "A", Brightness: 3.87774, HasBrightness: true},
		{Camera: "A", Brightness: 4.96578, HasBrightness: true},
		{Camera: "A", Brightness: 4.96578, HasBrightness: true, Bias: 1, HasBias: true},
	})
	require.InEpsilon(t, 125/58.8, fs[1].Gain/fs[0].Gain, 1e-4)
	// One stop more light on purpose: its picture is twice as bright.
	require.InEpsilon(t, .5, fs[2].Gain/fs[1].Gain, 1e-9)
	require.GreaterOrEqual(t, fs[0].Sigma, .1)
}

func TestExposuresSayWhichPhotosCannotBeCompared(t *testing.T) {
	fs := Exposures([]photo.Record{
		{Camera: "A", ExposureTime: .01, FNumber: 2, Sensitivity: 100},
		{Camera: "B", ExposureTime: .01, FNumber: 2, Sensitivity: 100},
		{Camera: "A", ExposureTime: .02, FNumber: 2, Sensitivity: 100, Taken: "2024:05:01 10:00:00"},
		{},
		{},
		{Camera: "A", ExposureTime: math.NaN(), FNumber: 2, Sensitivity: -3},
		{Camera: "A", ExposureTime: .02, Sensitivity: 100},
		{Camera: "A", ExposureTime: .02, FNumber: 2, Sensitivity: 100, Taken: "2024:05:02 10:00:00"},
	})
	groups := make([]int, len(fs))
	for i, f := range fs {
		groups[i] = f.Group
	}
	require.Equal(t, []int{1, 2, 1, 3, 4, 5, 6, 1}, groups)
	require.Contains(t, fs[1].Note, "No other photo by this camera (B)")
	require.Contains(t, fs[3].Note, "no exposure")
	require.False(t, fs[3].Known)
	require.Equal(t, 1.0, fs[3].Gain)
	require.Contains(t, fs[2].Note, "not all taken on one day")
	require.NotContains(t, fs[0].Note, "day")
	require.InEpsilon(t, 2, fs[0].Gain/fs[2].Gain, 1e-12)
	require.Empty(t, Exposures(nil))
}

func TestStand(t *testing.T) {
	p := plain(20, 20, func(x, y int) colorspace.Linear { return colorspace.Linear{.18, .18, .18} })
	e, err := New(p, Options{Camera: Straight}, OneCloth)
	require.NoError(t, err)
	e = e.Stand(Exposure{Group: 1, Gain: .25, Sigma: .02, Known: true, Note: "As written down."})
	require.InDelta(t, .045, e.Picture.At(10, 10).Y(), 1e-6)
	require.Equal(t, "exposure record", e.Record.Method)
	require.InDelta(t, .18, p.Picture.At(10, 10).Y(), 1e-6) // the photo itself is not touched
	require.False(t, e.LevelKnown)
	common, apart := e.SigmaOver(image.Rect(0, 0, 20, 20))
	require.Greater(t, common, .3)
	require.GreaterOrEqual(t, apart, .02)
}

// A white balance that is held fast leaves a bulb's colour in all photos.
func TestFixedWhiteBalanceIsSaid(t *testing.T) {
	r := photo.Record{Camera: "one", ExposureTime: .01, Sensitivity: 100, FNumber: 2, FixedWhite: true}
	for _, f := range Exposures([]photo.Record{r, r}) {
		require.Contains(t, f.Note, "white balance was held fast")
	}
	r.FixedWhite = false
	for _, f := range Exposures([]photo.Record{r, r}) {
		require.NotContains(t, f.Note, "white balance")
	}
}

// That the light of a photo cannot be compared with that of others is said once.
func TestWhatCannotBeComparedIsSaidOnce(t *testing.T) {
	for _, of := range []Hint{OneCloth, ScrapsOnGround} {
		e := &Even{exposure: &Exposure{Group: 1, Note: exposureNote(make([]photo.Record, 2), []int{0}, 0, noRecord)},
			seen: &Observation{options: Options{}}, fit: &Fit{hint: of}}
		e.Record.Method = "ground"
		note := strings.Join(e.wordsOfTheLight(said{}).remarks, " ")
		require.Equal(t, 1, strings.Count(note, "be compared with that of")+strings.Count(note, "set against")+strings.Count(note, "not with those of"), note)
		require.Equal(t, of != OneCloth, strings.Contains(note, "Its own pieces can be compared"), note)
	}
}
