package layout

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/eye"
)

// score counts how often Judge agrees with the truth of simulated tops.
type score struct {
	tops, named                int
	roles, rolesRight          int // patches that are light or dark
	planted, found, wronged    int // misplaced patches; found; said of others
	lost, lostFound, lostWrong int // seams under 8 L* between two cloths
	same, sameFound, sameWrong int // seams within one cloth
	changed, changes           int // tops with changes, and how many
	promised, worst, offMean   float64
}

func ratio(a, b int) float64 {
	if b == 0 {
		return 1
	}
	return float64(a) / float64(b)
}

func (sc *score) recall() float64    { return ratio(sc.found, sc.planted) }
func (sc *score) precision() float64 { return ratio(sc.found, sc.found+sc.wronged) }
func (sc *score) lostF1() float64    { return ratio(2*sc.lostFound, sc.lost+sc.lostFound+sc.lostWrong) }

// add judges a top and counts.
func (sc *score) add(tb testing.TB, t *simTop) Layout {
	tb.Helper()
	out, err := Judge(t.in)
	require.NoError(tb, err)
	sc.tops++
	if slices.Contains(t.names, out.Pattern.Name) {
		sc.named++
	}
	for i, p := range out.Patches {
		if t.names[0] != noPattern && (t.role[i] == toneLight || t.role[i] == toneDark) {
			sc.roles++
			if p.Reads == t.role[i].role() {
				sc.rolesRight++
			}
		}
		switch {
		case t.misplaced[i]:
			sc.planted++
			if p.Misplaced {
				sc.found++
			}
		case p.Misplaced:
			sc.wronged++
		}
	}
	index := t.index()
	for _, s := range out.Seams {
		a, b := index[s.Between[0]], index[s.Between[1]]
		found := s.Verdict == Lost
		if t.cloth[a] == t.cloth[b] {
			sc.same++
			if s.Verdict == SameCloth {
				sc.sameFound++
			} else if found {
				sc.lostWrong++
			}
			continue
		}
		if s.Verdict == SameCloth {
			sc.sameWrong++
		}
		lost := math.Abs(t.trueL[a]-t.trueL[b]) < DefaultLost
		switch {
		case lost:
			sc.lost++
			if found {
				sc.lostFound++
			}
		case found:
			sc.lostWrong++
		}
	}
	if n := len(out.Changes); n > 0 {
		sc.changed++
		sc.changes += n
		promised := out.Changes[n-1].Reads - *out.Reads
		off := math.Abs(promised - (t.trueReads(&out, n) - t.trueReads(&out, 0)))
		sc.promised += promised
		sc.offMean += off
		sc.worst = max(sc.worst, off)
	}
	return out
}

func (t *simTop) index() map[Cell]int {
	out := map[Cell]int{}
	for i := range t.truth {
		out[t.truth[i].cell()] = i
	}
	return out
}

// trueReads is the share of the seams meant to contrast that are truly clear
// after the first n changes.
func (t *simTop) trueReads(out *Layout, n int) float64 {
	type piece struct {
		l, spread float64
		cloth     int
	}
	hang := make([]piece, len(t.truth))
	for i := range t.truth {
		hang[i] = piece{t.trueL[i], t.truth[i].Spread, t.cloth[i]}
	}
	index := t.index()
	for _, c := range out.Changes[:n] {
		was := slices.Clone(hang)
		for _, p := range c.Placements {
			if p.From != nil {
				hang[index[p.To]] = was[index[*p.From]]
				continue
			}
			for k, f := range t.in.Stash {
				if f.ID == p.Stash {
					hang[index[p.To]] = piece{t.stashL[k], f.Spread, -1 - k}
				}
			}
		}
	}
	clear, asked := 0., 0.
	for _, s := range out.Seams {
		if s.Meant != Contrast {
			continue
		}
		a, b := hang[index[s.Between[0]]], hang[index[s.Between[1]]]
		asked++
		d := math.Abs(a.l - b.l)
		if a.cloth != b.cloth && VerdictOf(d, eye.Clarity(a.l, a.spread, b.l, b.spread), DefaultLost, DefaultSoft) == Clear {
			clear++
		}
	}
	return clear / asked
}

// holdOut are kinds of simulated tops with seeds that nothing was tuned on.
var holdOut = []struct {
	name string
	make func(seed uint64) *simTop
}{
	{"scrappy", func(seed uint64) *simTop { return anyPieced(seed+1e6, scrappy, Straight) }},
	{"two cloths", func(seed uint64) *simTop { return anyPieced(seed+2e6, twoCloths, Straight) }},
	{"two cloths a block", func(seed uint64) *simTop { return anyPieced(seed+3e6, blockCloths, Straight) }},
	{"blocks of their own level", func(seed uint64) *simTop { return anyPieced(seed+4e6, blockLevels, Straight) }},
	{"on point", func(seed uint64) *simTop { return anyPieced(seed+5e6, simStyle(seed%uint64(simStyles)), OnPoint) }},
	{"plain blocks between scrappy nine patches", func(seed uint64) *simTop {
		s := newSim(seed + 6e6)
		return s.pieced(simDesigns[3+s.pick(2)], 9+s.pick(12), 9+s.pick(12), scrappy, .04)
	}},
	{"no repeat", func(seed uint64) *simTop {
		s := newSim(seed + 7e6)
		return s.unpatterned(5+s.pick(14), 5+s.pick(14), int(seed%unpatternedKinds))
	}},
}

// anyPieced is a top of any design, of up to 5 % planted mistakes, every
// second one with a stash.
func anyPieced(seed uint64, style simStyle, setting Setting) *simTop {
	s := newSim(seed)
	d := simDesigns[s.pick(len(simDesigns))]
	mistakes := []float64{0, .02, .05}[s.pick(3)]
	var t *simTop
	if setting == OnPoint {
		t = s.piecedOnPoint(d, 5+s.pick(5), 5+s.pick(5), style, mistakes)
	} else {
		t = s.pieced(d, max(len(d.tile)+2, 5)+s.pick(9), max(len(d.tile[0])+2, 5)+s.pick(9), style, mistakes)
	}
	if seed%2 == 0 {
		s.giveStash(t, 30)
	}
	return t
}

// What has to be reached over tops that nothing was tuned on.
func TestHoldOut(t *testing.T) {
	var all score
	for _, h := range holdOut {
		for seed := range uint64(10) {
			all.add(t, h.make(seed))
		}
	}
	assert.GreaterOrEqual(t, ratio(all.named, all.tops), .95, "pattern named")
	assert.GreaterOrEqual(t, ratio(all.rolesRight, all.roles), .995, "light or dark")
	assert.GreaterOrEqual(t, all.recall(), .95, "misplaced found")
	assert.GreaterOrEqual(t, all.precision(), .95, "misplaced rightly")
	assert.GreaterOrEqual(t, all.lostF1(), .965, "lost seams")
	assert.GreaterOrEqual(t, ratio(all.sameFound, all.same), .99, "same cloth found")
	assert.LessOrEqual(t, ratio(all.sameWrong, all.sameWrong+all.sameFound), .01, "same cloth wrongly")
	assert.LessOrEqual(t, all.offMean/float64(all.changed), .01, "changes keep their promise")
}

// BenchmarkHoldOut reports how often Judge is right over many tops of each
// kind; ns/op is the time for all of them.
func BenchmarkHoldOut(b *testing.B) {
	for _, h := range holdOut {
		b.Run(h.name, func(b *testing.B) {
			var sc score
			for b.Loop() {
				sc = score{}
				for seed := range uint64(150) {
					sc.add(b, h.make(1000+seed))
				}
			}
			b.ReportMetric(ratio(sc.named, sc.tops), "named")
			if sc.roles > 0 {
				b.ReportMetric(ratio(sc.rolesRight, sc.roles), "light-or-dark")
				b.ReportMetric(sc.recall(), "misplaced-recall")
				b.ReportMetric(sc.precision(), "misplaced-precision")
			}
			b.ReportMetric(sc.lostF1(), "lost-F1")
			if sc.changed > 0 {
				b.ReportMetric(float64(sc.changes)/float64(sc.changed), "changes")
				b.ReportMetric(sc.promised/float64(sc.changed), "gain")
				b.ReportMetric(sc.offMean/float64(sc.changed), "gain-off")
			}
		})
	}
}

// BenchmarkOneBlock is the same for single blocks, of which there is little to
// go by.
func BenchmarkOneBlock(b *testing.B) {
	for _, d := range simDesigns[:3] {
		n := len(d.tile)
		b.Run(fmt.Sprintf("%d x %d", n, n), func(b *testing.B) {
			var sc score
			for b.Loop() {
				sc = score{}
				for seed := range uint64(200) {
					sc.add(b, newSim(seed+8e6).pieced(d, n, n, simStyle(seed%uint64(simStyles)), 0))
				}
			}
			b.ReportMetric(ratio(sc.named, sc.tops), "named")
			b.ReportMetric(ratio(sc.rolesRight, sc.roles), "light-or-dark")
		})
	}
}

// BenchmarkLargest is the largest top that is promised: 40 x 40 patches, one
// in twenty misplaced, and a stash of 200 cloths.
func BenchmarkLargest(b *testing.B) {
	for _, style := range []simStyle{scrappy, twoCloths, blockLevels} {
		s := newSim(9e6 + uint64(style))
		t := s.pieced(simDesigns[3], 40, 40, style, .05)
		s.giveStash(t, 200)
		var n int
		b.Run([]string{"scrappy", "two cloths", "", "blocks of their own level"}[style], func(b *testing.B) {
			b.Run("all", func(b *testing.B) {
				for b.Loop() {
					out, err := Judge(t.in)
					require.NoError(b, err)
					n = len(out.Changes)
				}
				b.ReportMetric(float64(n), "changes")
			})
			b.Run("changes", func(b *testing.B) {
				lay, err := newTop(t.in)
				require.NoError(b, err)
				cloths := lay.sameCloths()
				p, _ := lay.findPattern(cloths)
				lay.fabrics(cloths)
				lay.readAll(&p)
				seams := lay.seams(func(e edge) Meaning { return contrastOf(p.tones[e.a], p.tones[e.b]) })
				for b.Loop() {
					changes, _, _ := lay.changes(&p, seams)
					n = len(changes)
				}
				b.ReportMetric(float64(n), "changes")
			})
		})
	}
}
