package light

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"greige/analyze/numerals"
	"greige/analyze/raster"
	"greige/colorspace"
)

// words are what was done about the light, and what to do better, for someone who
// sews.
func (e *Even) words() (note, advice string) {
	s := e.fit.said
	switch e.seen.options.Mode {
	case None:
		s = s.with("The light was left as the camera gave it.", "")
	default:
		s = e.wordsOfTheLevel(s)
		s = e.wordsOfTheLight(s)
	}
	return strings.Join(s.remarks, " "), strings.Join(unlike(s.tips), " ")
}

// used tells whether a way of knowing the light was used.
func (e *Even) used(method string) bool {
	return strings.Contains(" + "+e.Record.Method+" + ", " + "+method+" + ")
}

// lighterTogether is by how much a light cloth, L* 80, may be out for this relative
// standard uncertainty of the level: half of the interval of 95 %, rounded up.
func lighterTogether(sigma float64) float64 {
	return math.Ceil(1.96 * sigma * lightnessPerShare(colorspace.LuminanceOf(80)))
}

// wordsOfTheLevel adds what lightness and the colour of the light stand on.
func (e *Even) wordsOfTheLevel(s said) said {
	opt, f := &e.seen.options, e.fit
	switch {
	case e.used("card"):
		return s.with("Lightness and the colour of the light were set by the card.", "")
	case e.used("paper"):
		s = s.with(fmt.Sprintf("Took the white paper %s for the reference: lightness and the colour of the light were set by it.", f.paperPlace()), "")
		if f.paper.doubtful() {
			s = s.with(fmt.Sprintf("The photo shows too little of it to tell it from a white board or table, so all pieces may be up to %.0f lighter or darker together than they are said to be.", lighterTogether(boardSigma)),
				"Show a whole sheet of white paper, with its corners; or say where it lies with --card.")
		}
		return s
	case e.used("sheet"):
		w := fmt.Sprintf("Lightness and the colour of the light were set by the white sheet, taken to be %g light, where black is 0 and the purest white 100.", opt.lightness())
		if opt.Mode != Sheet {
			w += " If what lies behind the cloths is not white, say how light it is with --card-lightness, or use --light none."
		}
		return s.with(w, "")
	case !e.used("ground"):
		return s
	case f.white != nil && f.white.rough:
		return s.with(fmt.Sprintf("What lies behind the cloths is plain and white or nearly so, and showed how uneven the light was and which colour it had. Whether it is as white as paper or a creamier or greyer cloth cannot be seen, so all pieces of this photo may be up to %.0f lighter or darker together than they are said to be.", lighterTogether(f.white.sigma)),
			"Lay a sheet of white paper in the corner and take it again; or, where you know how light the ground is, say so with --light sheet and --card-lightness.")
	case f.verdict.neutral && f.verdict.faint:
		return s.with("What lies behind the cloths is plain, so it showed how uneven the light was. Its own lightness is not known.", "")
	case f.verdict.neutral:
		return s.with("What lies behind the cloths is plain and has hardly any colour, so it showed how uneven the light was and which colour it had. Its own lightness is not known.", "")
	}
	return s.with("What lies behind the cloths is plain but coloured, so it showed how uneven the light was, but not which colour the light had or how light things are.", "")
}

// From which ratio of the brightest part of the light to the dimmest on it is told,
// and advised against (common practice, no source).
const (
	toldUneven = 1.15
	tooUneven  = 1.6
)

// wordsOfTheLight adds how the light falls and what cannot be told.
func (e *Even) wordsOfTheLight(s said) said {
	f, r := e.fit, &e.Record
	oneCloth := f.hint == OneCloth
	switch {
	case e.used("slope of the cloth") && oneCloth:
		s = s.with("How the light falls off was seen on the cloth itself, which is alike all over.", "")
	case e.used("slope of the cloth"):
		s = s.with("How the light falls off was seen inside the pieces themselves.", "")
	case e.used("repeated cloths"):
		s = s.with("Patches of one cloth in different places showed how uneven the light was.", "")
	}
	group := ""
	if e.exposure != nil {
		group = e.exposure.Note
	}
	s = s.with(group, "")
	if r.Method == "none" && group == "" {
		s = s.with("Nothing in the photo tells how light it really is, so it was left as the camera gave it.", "")
	}
	s = s.with(e.cameraWords(), "")
	if f.shadows != nil && f.shadows.shaded {
		s = s.with("A shadow lies over a part of the photo. It was taken out as it shows on the ground; pieces in it are less sure.", "Keep hands and head out of the light.")
	}
	if f.shadows != nil && f.shadows.shining {
		s = s.with("The ground shines in one place; a piece that lies there looks lighter than it is.", "Turn the table or the lamp until nothing shines.")
	}
	if f.graded {
		s = s.with("The top itself gets darker towards one end; that is its own and was left in.", "")
	}
	if r.Unevenness >= toldUneven && !oneCloth && e.Picture != e.Photo.Picture {
		s = s.with(fmt.Sprintf("The brightest part of the photo had %.1f times the light of the dimmest.", r.Unevenness), "")
	}
	if r.Unevenness >= tooUneven {
		s = s.with("", "Move away from the lamp, so that all parts get the same light.")
	}
	s = s.with(castWords(r.Cast), "")
	if e.LevelKnown {
		return s
	}
	switch {
	case e.used("exposure record"), group != "" && oneCloth: // it is said
	case oneCloth:
		s = s.with("Its lightness cannot be set against that of other photos.", "")
	case group != "":
		s = s.with("Its own pieces can be compared with each other.", "")
	case r.Method != "none":
		s = s.with("Pieces of this photo can be compared with each other, but not with those of other photos.", "")
	}
	if group != "" {
		return s.with("", "Lay a sheet of white paper into a corner of each photo: then their cloths can be compared.")
	}
	return s.with("", "Lay a sheet of white paper in the corner and take it again.")
}

// paperPlace says where in the photo the paper lies.
func (f *Fit) paperPlace() string {
	if f.paper.bears {
		return "that things lie on"
	}
	m := raster.Centroid(f.paper.outline)
	side := func(at float64, size int, low, high string) string {
		switch {
		case at < float64(size)/3:
			return low
		case at > 2*float64(size)/3:
			return high
		}
		return ""
	}
	across, down := side(m[0], f.cells.w, "left", "right"), side(m[1], f.cells.h, "top", "bottom")
	switch {
	case across == "" && down == "":
		return "in the middle"
	case across == "" || down == "":
		return "at the " + down + across
	}
	return "in the " + down + " " + across + " corner"
}

// unlike is list without repetitions.
func unlike(list []string) []string {
	var out []string
	for _, s := range list {
		if !strings.Contains(strings.Join(out, " "), s) {
			out = append(out, s)
		}
	}
	return out
}

// castWords names a strong colour of the light.
func castWords(cast []float64) string {
	if len(cast) != 3 || cast[1] <= 0 {
		return ""
	}
	// Red and blue against green: a bulb of 2856 K gives 2.2 and 0.28, shade
	// of 10000 K 0.8 and 1.3.
	r, b := cast[0]/cast[1], cast[2]/cast[1]
	switch {
	case r > 1.6 && b < .5:
		return "The light was orange."
	case r > 1.15 && b < .8:
		return "The light was yellowish."
	case r < .93 && b > 1.12:
		return "The light was bluish."
	}
	return ""
}

// cameraWords says what was known of the camera beforehand; "" where it was nothing.
func (e *Even) cameraWords() string {
	k := e.tone.kept
	if k == nil {
		s := e.seen.options.Learned
		if s != nil && len(s.Cameras) > 0 && e.seen.options.Camera == nil && !IdentityOf(e.Photo.Record).Known() {
			return "The file does not say which camera took it, as is usual for a photo that came by a messenger, so nothing of what was learned of your phone was used."
		}
		return ""
	}
	var days []string
	for _, t := range k.Photos {
		if t.Date != "" && !slices.Contains(days, t.Date) {
			days = append(days, t.Date)
		}
	}
	slices.Sort(days)
	from := "from " + numerals.Some(len(k.Photos), "photo", "photos")
	switch {
	case len(k.Photos) == 1 && len(days) == 1:
		from = "on " + day(days[0])
	case len(k.Photos) == 1:
	case len(days) == 1:
		from += " of " + day(days[0])
	case len(days) > 1:
		from += ", the last of " + day(days[len(days)-1])
	}
	s := fmt.Sprintf("What this phone (%s) does to light and dark was learned %s and is taken out.", k.Name, from)
	if IdentityOf(e.Photo.Record) != k.Identity {
		s = fmt.Sprintf("The photo was taken for one by the phone %s, as was said; what that phone does to light and dark was learned %s and is taken out.", k.Name, from)
	}
	return s
}

// day is a date, 2024-03-09, in words.
func day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("2 January 2006")
}
