package light

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"greige/analyze/photo"
)

// Exposure is how the exposure of one photo stands to that of others: what
// has to be done to its light so that it can be compared with theirs.
type Exposure struct {
	// Group numbers the photos that can be compared, from 1 in the order of
	// their first photos. A photo that can be compared with no other has a
	// group to itself, and Gain 1.
	Group int
	// Gain: linear light times Gain stands on the group's common footing. Its
	// geometric mean over the group is 1, because the records fix exposures
	// against each other and say nothing of the level they share.
	Gain float64
	// Sigma is the relative standard uncertainty of Gain between two photos
	// of the group.
	Sigma float64
	// Known: Gain comes from the camera's record.
	Known bool
	// OneWhite: all photos of the group were taken on one day with the white
	// balance held fast, so that what colour the light has left is taken to be
	// the same in all of them.
	OneWhite bool
	// Note says in words what was used, or why the photo cannot be compared.
	Note string
}

// Relative standard uncertainties of what cameras write down (common
// practice, no source). A value that all photos of a group share does not
// count: its error falls on all alike.
const (
	timeSigma  = .01 // electronic shutters keep time, but many cameras round it to 1/60, 1/125
	isoSigma   = .01 // steps of gain against each other
	stopSigma  = .03 // f-numbers are rounded to the marks on the scale, 5.6 for 5.66
	meterSigma = .1  // BrightnessValue is written in coarse steps
	whiteSigma = .01 // automatic white balance moves red and blue, luminance a little
)

// basis of a record: which of its fields tell the exposure.
type recordKind int

const (
	noRecord  recordKind = iota
	fullTimes            // ExposureTime, PhotographicSensitivity and FNumber
	noStop               // the same without FNumber
	metered              // BrightnessValue and ExposureBiasValue only
)

// exposure is ln of what the photo makes of a given luminance, up to a
// constant of the camera.
//
// Time, sensitivity and f-number are what was set, so they tell it whole:
// signal ~ L t S / N^2 (ISO 2720; CIPA DC-008 annex on APEX). The exposure
// bias is already in them, because the camera carried it out by setting them;
// it would count twice. It is the right field only where they are missing and
// the metered brightness has to stand in: Av + Tv = Bv + Sv - bias, so that
// log2(t S / N^2) = bias - Bv up to a constant.
func exposure(r *photo.Record) (recordKind, float64) {
	t, s, n := r.ExposureTime, r.Sensitivity, r.FNumber
	switch {
	case usable(t) && usable(s) && usable(n):
		return fullTimes, math.Log(t * s / (n * n))
	case usable(t) && usable(s):
		return noStop, math.Log(t * s)
	case r.HasBrightness && finite(r.Brightness) && finite(r.Bias):
		return metered, math.Ln2 * (r.Bias - r.Brightness)
	}
	return noRecord, 0
}

func usable(v float64) bool { return v > 0 && finite(v) }
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) && math.Abs(v) < 1e12 }

// Exposures compares the exposures of photos by the cameras' own records, so
// that auto-exposure can be undone before anything is measured. Photos are
// comparable when one camera took them and wrote down the same fields; that
// the lamp stayed the same is taken for granted, and noted when the photos
// were taken on different days. The result has one Exposure a record, in the
// same order.
func Exposures(records []photo.Record) []Exposure {
	type key struct {
		camera string
		kind   recordKind
	}
	out := make([]Exposure, len(records))
	logs := make([]float64, len(records))
	groups := map[key]int{}
	var members [][]int
	var kinds []recordKind
	for i := range records {
		r := &records[i]
		kind, l := exposure(r)
		logs[i] = l
		k := key{strings.Join(strings.Fields(r.Camera), " "), kind}
		g, ok := groups[k]
		if !ok || kind == noRecord {
			members = append(members, nil)
			kinds = append(kinds, kind)
			g = len(members) - 1
			groups[k] = g
		}
		members[g] = append(members[g], i)
	}
	for g, m := range members {
		mean := 0.0
		for _, i := range m {
			mean += logs[i] / float64(len(m))
		}
		sigma := recordSigma(records, m, kinds[g])
		// Another day, another light.
		held := !slices.ContainsFunc(m, func(i int) bool { return !records[i].FixedWhite || dayOf(records, i) != dayOf(records, m[0]) })
		for _, i := range m {
			f := &out[i]
			f.Group, f.Gain = g+1, 1
			if len(m) > 1 {
				f.Gain, f.Sigma, f.Known = math.Exp(mean-logs[i]), sigma, true
				f.OneWhite = held
			}
			f.Note = exposureNote(records, m, i, kinds[g])
		}
	}
	return out
}

// recordSigma is the relative standard uncertainty of one photo's exposure
// against the others of its group.
func recordSigma(records []photo.Record, members []int, kind recordKind) float64 {
	if kind == metered {
		return meterSigma
	}
	differ := func(of func(r *photo.Record) float64) bool {
		for _, i := range members {
			if of(&records[i]) != of(&records[members[0]]) {
				return true
			}
		}
		return false
	}
	v := 0.0
	if differ(func(r *photo.Record) float64 { return r.ExposureTime }) {
		v += timeSigma * timeSigma
	}
	if differ(func(r *photo.Record) float64 { return r.Sensitivity }) {
		v += isoSigma * isoSigma
	}
	if kind == fullTimes && differ(func(r *photo.Record) float64 { return r.FNumber }) {
		v += stopSigma * stopSigma
	}
	for _, i := range members {
		if !records[i].FixedWhite {
			v += whiteSigma * whiteSigma
			break
		}
	}
	return math.Sqrt(v)
}

// exposureNote is what to tell about photo i of a group.
func exposureNote(records []photo.Record, members []int, i int, kind recordKind) string {
	const missing = "The camera wrote down no exposure for this photo, so its lightness cannot be compared with that of other photos."
	if kind == noRecord {
		return missing
	}
	if len(members) == 1 {
		if len(records) == 1 {
			return ""
		}
		if records[i].Camera == "" {
			return "This photo does not say which camera took it, so its lightness cannot be compared with that of the others."
		}
		return fmt.Sprintf("No other photo by this camera (%s) has the same record of its exposure, so its lightness cannot be compared with that of the others.", records[i].Camera)
	}
	note := "Set against the other photos by the exposure that the camera wrote down: the order is sound, how light they all are together is not known."
	switch kind {
	case noStop:
		note += " The camera did not write down how wide its lens was open; that is taken to be the same in all."
	case metered:
		note += " The camera wrote down only how bright the scene was, in coarse steps."
	}
	if records[i].FixedWhite {
		note += " The camera's white balance was held fast; if it was not set for this lamp, strongly coloured cloths look lighter or darker than they are."
	}
	if records[i].Camera == "" {
		note += " The photos do not say which camera took them; it is taken to be one."
	}
	for _, j := range members {
		if d, e := dayOf(records, j), dayOf(records, i); d != e && d != "-" && e != "-" {
			return note + " They were not all taken on one day; if the light was another one, the order is not sound either."
		}
	}
	return note
}

// dayOf is the day on which a photo was taken, "-" where that is not known.
func dayOf(records []photo.Record, i int) string {
	return strings.Fields(records[i].Taken + " -")[0]
}

// Stand is e on the footing of its exposure group: its picture lighter or darker by
// x.Gain. A photo whose level is known (by a card or a sheet) has better footing
// already and stays as it is.
func (e *Even) Stand(x Exposure) *Even {
	if e.LevelKnown || e.seen.options.Mode == None {
		return e
	}
	o := *e
	o.exposure = &x
	if x.Known {
		// Photos on one footing keep the exposures that the record gives them.
		o.brighten(x.Gain / o.tone.gain)
		o.Record.Method = joined(o.Record.Method, "exposure record")
		o.left.between = math.Hypot(o.left.between, x.Sigma)
		o.Causes.Exposure = fmt.Sprintf("group %d", x.Group)
	}
	o.Record.Note, o.Record.Advice = o.words()
	return &o
}

// joined adds to what was used.
func joined(method, more string) string {
	if method == "none" {
		return more
	}
	return method + " + " + more
}
