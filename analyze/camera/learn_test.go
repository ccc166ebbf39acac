package camera

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Learned from one photo of the chart and judged on the others by the same
// camera, beside a white card: the two sources of testdata/real with five and eight
// photos by one camera each. Asked: intervals narrower by a third that still hold .90,
// errors down by a fifth. One source reaches the last, the other does not: its errors
// are mostly each photo's own.
func TestOneChartTeachesACamera(t *testing.T) {
	l := published(t)
	all := charts(t)
	for _, want := range []struct {
		source       string
		down, inside float64 // the most that is left of the errors; the least share inside
	}{{"JTvD", .99, .93}, {"andyoranned", .8, .93}} {
		var photos []*chart
		for _, c := range all {
			if strings.HasPrefix(c.photo, want.source) {
				photos = append(photos, c)
			}
		}
		require.GreaterOrEqual(t, len(photos), 5)
		j := &chartJudge{l: l}
		for i, teacher := range photos {
			refs := teacher.known(l)
			assert.Less(t, Nothing().Agrees(refs), float64(Disagreement))
			learned, err := Nothing().FromGreys(refs)
			require.NoError(t, err)
			assert.Less(t, learned.Gain(), NoGain)
			for k, c := range photos {
				if i != k {
					assert.Less(t, learned.Agrees(c.known(l)), float64(Disagreement), "%s after %s", c.photo, teacher.photo)
					j.judge(c, learned)
				}
			}
		}
		t.Logf("%s: dL* %.2f -> %.2f, half %.1f -> %.1f, inside %.3f", want.source, median(j.plain), median(j.own), median(j.plainHalf), median(j.ownHalf), j.inside/float64(len(j.own)))
		assert.Less(t, median(j.own), want.down*median(j.plain))
		assert.Less(t, median(j.ownHalf), median(j.plainHalf)*.68)
		assert.Greater(t, j.inside/float64(len(j.own)), want.inside)
	}
}

// known are all patches of a chart as surfaces of known lightness.
func (c *chart) known(l [25]float64) (refs []Reference) {
	for p := 1; p <= 24; p++ {
		refs = append(refs, Reference{Seen: c.seen(p, 19), Lightness: l[p], Sigma: .7})
	}
	return refs
}

// chartJudge collects the errors and the half intervals of patches beside a white
// card, by what is known of any camera and by what was learned.
type chartJudge struct {
	l                              [25]float64
	plain, own, plainHalf, ownHalf []float64
	inside                         float64
}

func (j *chartJudge) judge(c *chart, learned *Learned) {
	usual, own := c.under(Usual(.46), j.l, 19), c.under(learned.Belief(.46), j.l, 19)
	for p := 1; p <= 24; p++ {
		if p == 19 {
			continue
		}
		s := c.seen(p, 19)
		a, slope := usual.Lightness(s.Lab)
		b, slopeOwn := own.Lightness(s.Lab)
		half := own.Doubt(s, Causes{}, slopeOwn, 0).Half(1)
		j.plain, j.own = append(j.plain, math.Abs(a-j.l[p])), append(j.own, math.Abs(b-j.l[p]))
		j.plainHalf, j.ownHalf = append(j.plainHalf, usual.Doubt(s, Causes{}, slope, 0).Half(1)), append(j.ownHalf, half)
		if math.Abs(b-j.l[p]) <= half {
			j.inside++
		}
	}
}

func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

// The order in which charts are learned does not matter for what is known in the end.
func TestLearningsAddUpInAnyOrder(t *testing.T) {
	l := published(t)
	all := charts(t)
	a, b := all[0].known(l), all[1].known(l)
	ab, err := Nothing().FromGreys(a)
	require.NoError(t, err)
	ab, err = ab.FromGreys(b)
	require.NoError(t, err)
	ba, err := Nothing().FromGreys(b)
	require.NoError(t, err)
	ba, err = ba.FromGreys(a)
	require.NoError(t, err)
	assert.InDeltaSlice(t, ab.weights, ba.weights, 1e-6)
	assert.InDelta(t, ab.Gain(), ba.Gain(), 1e-6)
}

func TestOneGreyTeachesNothing(t *testing.T) {
	_, err := Nothing().FromGreys(charts(t)[0].known(published(t))[:1])
	assert.ErrorContains(t, err, "two at least")
	_, _, err = Nothing().FromSteps(make([]Step, 5))
	assert.ErrorContains(t, err, "too few surfaces")
	assert.InDelta(t, 1, Nothing().Gain(), 1e-9)
}
