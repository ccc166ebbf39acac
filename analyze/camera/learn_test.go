package camera

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// Learned from one photo of the chart and judged on the others by the same
// camera, beside a white card: the two sources of testdata/real with five and eight
// photos by one camera each.
func TestOneChartTeachesACamera(t *testing.T) {
	l := published(t)
	sources := map[string][]*chart{}
	for _, c := range charts(t) {
		for _, s := range []string{"JTvD", "andyoranned"} {
			if strings.HasPrefix(c.photo, s) {
				sources[s] = append(sources[s], c)
			}
		}
	}
	for _, name := range []string{"JTvD", "andyoranned"} {
		photos := sources[name]
		require.GreaterOrEqual(t, len(photos), 5)
		var plain, learned, plainHalf, learnedHalf []float64
		inside, n := 0., 0.
		for i, teacher := range photos {
			var refs []Reference
			for p := 1; p <= 24; p++ {
				refs = append(refs, Reference{Seen: teacher.seen(p, 19), Lightness: l[p], Sigma: .7})
			}
			camera, err := Nothing().FromGreys(refs)
			require.NoError(t, err)
			for j, c := range photos {
				if i == j {
					continue
				}
				usual, own := c.under(Usual(.46), l, 19), c.under(camera.Belief(.46), l, 19)
				for p := 1; p <= 24; p++ {
					if p == 19 {
						continue
					}
					s := c.seen(p, 19)
					a, slope := usual.Lightness(s.Lab)
					b, slopeOwn := own.Lightness(s.Lab)
					plain, learned = append(plain, math.Abs(a-l[p])), append(learned, math.Abs(b-l[p]))
					plainHalf = append(plainHalf, usual.Doubt(s, Causes{}, slope, 0).Half(1))
					half := own.Doubt(s, Causes{}, slopeOwn, 0).Half(1)
					learnedHalf = append(learnedHalf, half)
					n++
					if math.Abs(b-l[p]) <= half {
						inside++
					}
				}
			}
		}
		t.Logf("%s: dL* %.2f -> %.2f, half %.1f -> %.1f, inside %.3f", name, median(plain), median(learned), median(plainHalf), median(learnedHalf), inside/n)
	}
}

func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

var _ = assert.Equal
var _ colorspace.Lab
