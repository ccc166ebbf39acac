package photo

import (
	"math"
	"strings"
	"unicode"
)

// The fields that are read, by their numbers in CIPA DC-008 (EXIF 2.3).
const (
	tagMake               = 271
	tagModel              = 272
	tagOrientation        = 274
	tagExposureTime       = 33434
	tagFNumber            = 33437
	tagExif               = 34665
	tagSensitivity        = 34855
	tagStandardOutput     = 34865
	tagRecommendedIndex   = 34866
	tagISOSpeed           = 34867
	tagDateTimeOriginal   = 36867
	tagShutterSpeedValue  = 37377
	tagApertureValue      = 37378
	tagBrightnessValue    = 37379
	tagExposureBiasValue  = 37380
	tagInteroperability   = 40965
	tagWhiteBalance       = 41987
	tagLensModel          = 42036
	tagInteroperabilityID = 1
)

// exifRecord is what EXIF gives.
type exifRecord struct {
	Record
	orientation orientation
}

// readRecord reads what the camera wrote. A broken record leaves out what is
// broken and makes a note; MakerNotes are never looked at. The second result
// tells whether an orientation is given.
func readRecord(h *header) (r exifRecord, turned bool) {
	if h.exif == nil {
		return r, false
	}
	const broken = "the camera's record (EXIF) is damaged and was left out"
	d, ok := openDirectories(h.exif)
	if !ok {
		h.note(broken)
		return r, false
	}
	main, ok := d.at(d.first)
	if !ok {
		h.note(broken)
		return r, false
	}
	if v, ok := d.whole(main, tagOrientation); ok && v >= 1 && v <= 8 {
		r.orientation, turned = orientation(v), true
	}
	r.Make, r.Model = d.text(main, tagMake), d.text(main, tagModel)
	r.Camera = camera(r.Make, r.Model)
	off, ok := d.whole(main, tagExif)
	if !ok {
		return r, turned
	}
	exif, ok := d.at(off)
	if !ok {
		h.note("part of the camera's record (EXIF) is damaged and was left out")
		return r, turned
	}
	d.exposure(exif, &r.Record)
	if v, ok := d.whole(exif, tagWhiteBalance); ok {
		r.FixedWhite = v == 1
	}
	r.Taken = d.text(exif, tagDateTimeOriginal)
	r.Lens = d.text(exif, tagLensModel)
	if off, ok := d.whole(exif, tagInteroperability); ok {
		if inter, ok := d.at(off); ok && d.text(inter, tagInteroperabilityID) == "R03" && h.profile == nil && h.space == nil {
			// DCF 2.0, 3.2.2: R03 marks the optional colour space, Adobe RGB.
			h.space = adobeSpace()
		}
	}
	return r, turned
}

// exposure reads time, aperture, sensitivity, bias and brightness. Where the
// plain figure is missing its APEX twin serves: t = 2^-Tv, N = 2^(Av/2)
// (CIPA DC-008, annex C).
func (d directories) exposure(exif directory, r *Record) {
	sound := func(v float64, ok bool, lo, hi float64) float64 {
		if !ok || !(v >= lo && v <= hi) {
			return 0
		}
		return v
	}
	v, ok := d.ratio(exif, tagExposureTime)
	if r.ExposureTime = sound(v, ok, 1e-7, 1e5); r.ExposureTime == 0 {
		v, ok = d.ratio(exif, tagShutterSpeedValue)
		r.ExposureTime = sound(math.Exp2(-v), ok, 1e-7, 1e5)
	}
	v, ok = d.ratio(exif, tagFNumber)
	if r.FNumber = sound(v, ok, .1, 1000); r.FNumber == 0 {
		v, ok = d.ratio(exif, tagApertureValue)
		r.FNumber = sound(math.Exp2(v/2), ok, .1, 1000)
	}
	// 65535 means that the figure does not fit and stands in one of the
	// longer fields, which EXIF 2.3 added.
	if n, ok := d.whole(exif, tagSensitivity); ok && n > 0 && n < math.MaxUint16 {
		r.Sensitivity = float64(n)
	} else {
		for _, tag := range []uint16{tagRecommendedIndex, tagStandardOutput, tagISOSpeed} {
			if n, ok := d.whole(exif, tag); ok && n > 0 && r.Sensitivity == 0 {
				r.Sensitivity = float64(n)
			}
		}
	}
	if v, ok := d.ratio(exif, tagExposureBiasValue); ok && math.Abs(v) <= 20 {
		r.Bias, r.HasBias = v, true
	}
	if v, ok := d.ratio(exif, tagBrightnessValue); ok && math.Abs(v) <= 50 {
		r.Brightness, r.HasBrightness = v, true
	}
}

// camera joins maker and model, which often begins with the maker's name.
func camera(maker, model string) string {
	if strings.HasPrefix(strings.ToLower(model), strings.ToLower(maker)) {
		return model
	}
	return strings.TrimSpace(maker + " " + model)
}

// cleanText is s up to its first zero, without control and unpaired bytes,
// its runs of blanks made one, at most n runes long.
func cleanText(s string, n int) string {
	s, _, _ = strings.Cut(s, "\x00")
	s = strings.Map(func(r rune) rune {
		if r == unicode.ReplacementChar || !unicode.IsPrint(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	runes := []rune(strings.Join(strings.Fields(s), " "))
	return string(runes[:min(n, len(runes))])
}
