package light

import "math"

// A soft shadow, of the hand that holds the phone, lies on a top as it lies on
// a table; but the margin shows little of it, and the smooth field cannot follow
// it. The repeats show it: where it lies, patches of many cloths are darker than
// those of their colour elsewhere, all by about as much, as nowhere else on the
// top. What that is is not taken out, since a planned change of value may look
// like it: it is said, and lies inside the intervals of the patches there.

const (
	softMost  = .35 // ln: a third of the light; more has a sharp edge somewhere
	softLeast = broadLeast
	softSure  = 4   // times what neighbourhoods scatter by elsewhere
	softReach = .3  // of half the photo's width: how far about a patch is looked
	softPeers = 4   // patches of a colour, besides, that tell how light it is elsewhere
	softNear  = 5   // patches in a neighbourhood that tell how dark it is
	softShare = .35 // of the top; more is no shadow's but the top's own
	softTint  = .5  // of what one cloth's colour may differ by: of all that may be one, most have to be
)

// doubtSoftShadow looks for a soft shadow on the patches of a top, says so and
// keeps what it leaves in doubt.
func (e *Even) doubtSoftShadow(c *cells, places []place) {
	shade := softShadow(places, e.left.field, float64(c.h)/float64(c.w))
	if shade == nil {
		return
	}
	if e.dark == nil {
		e.dark = make([]float64, c.w*c.h)
	}
	geo := c.geometry()
	for i := range e.dark {
		u, v := c.at(i, geo)
		nearest, least := 0, math.Inf(1)
		for j := range places {
			du, dv := places[j].at[0]-u, places[j].at[1]-v
			if d := du*du + dv*dv; d < least {
				nearest, least = j, d
			}
		}
		e.dark[i] = max(e.dark[i], shade[nearest])
	}
	e.remark("In one part of the top many cloths are darker than elsewhere, as in a soft shadow. Figures of what hangs there are less sure.")
	e.tip(adviceShadow)
}

// softShadow is ln of the light that a soft shadow may keep from each place,
// 0 for most; nil where there is none. f is the light as far as it is known, nil
// where it is not; aspect the photo's height over its width.
func softShadow(places []place, f *field, aspect float64) []float64 {
	fall, told := falls(places, f)
	apart := func(i, j int) float64 {
		return math.Hypot(places[i].at[0]-places[j].at[0], aspect*(places[i].at[1]-places[j].at[1]))
	}
	mean, seen := make([]float64, len(places)), make([]bool, len(places))
	var all []float64
	for i := range places {
		sum, n := 0.0, 0.0
		for j := range places {
			if told[j] && apart(i, j) < softReach {
				sum, n = sum+fall[j], n+1
			}
		}
		if seen[i] = n >= softNear; seen[i] {
			mean[i] = sum / n
			all = append(all, mean[i])
		}
	}
	if len(all) < 3*softNear {
		return nil
	}
	mid := quantiles(all, 1)[0]
	away := make([]float64, len(all))
	for i, m := range all {
		away[i] = math.Abs(m - mid)
	}
	least := max(softLeast, softSure*1.4826*quantiles(away, 1)[0])
	var in []int
	for i := range places {
		if seen[i] && mean[i]-mid > least {
			in = append(in, i)
		}
	}
	if len(in) == 0 || float64(len(in)) > softShare*float64(len(all)) {
		return nil
	}
	// The shadow goes on beyond, and its middle is deeper than the means.
	out := make([]float64, len(places))
	for i := range places {
		for _, j := range in {
			if apart(i, j) < softReach {
				out[i] = max(out[i], mean[j]-mid)
			}
		}
		if out[i] > 0 && told[i] {
			out[i] = max(out[i], fall[i]-mid)
		}
	}
	return out
}

// falls are how much darker each place is than those of its colour, as ln of
// luminance, and whether there are enough of them.
func falls(places []place, f *field) (fall []float64, told []bool) {
	own := make([]float64, len(places))
	for i := range places {
		own[i] = places[i].mean[0]
		if f != nil {
			own[i] -= f.lnY(&places[i].at)
		}
	}
	fall, told = make([]float64, len(places)), make([]bool, len(places))
	var peers []float64
	for i := range places {
		p := &places[i]
		peers = peers[:0]
		for j := range places {
			q := &places[j]
			if math.Abs(own[i]-own[j]) < softMost && math.Abs(p.mean[1]-q.mean[1]) < softTint*sameTint && math.Abs(p.mean[3]-q.mean[3]) < softTint*sameTintB {
				peers = append(peers, own[j])
			}
		}
		if told[i] = len(peers) > softPeers; told[i] {
			fall[i] = quantiles(peers, 1)[0] - own[i]
		}
	}
	return fall, told
}
