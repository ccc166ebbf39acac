package light

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// say puts what was done about the light, and what to do better, into words
// for someone who sews.
func (e *Even) say() {
	var note, advice []string
	add := func(to *[]string, s string) { *to = append(*to, s) }
	for _, s := range e.remarks {
		add(&note, s)
	}
	for _, s := range e.tips {
		add(&advice, s)
	}
	r := &e.Record
	has := func(m string) bool { return strings.Contains(" + "+r.Method+" + ", " + "+m+" + ") }

	switch {
	case e.given:
		add(&note, "The light was left as the camera gave it.")
	case e.gaveUp:
	case has("card"):
		add(&note, "Lightness and the colour of the light were set by the card.")
	case has("paper"):
		add(&note, fmt.Sprintf("Took the white paper %s for the reference: lightness and the colour of the light were set by it.", e.paper.where(e.Picture.W, e.Picture.H)))
		if e.paper.cut {
			// Of a light cloth, L* 80, the L* that 95 % of an interval spans.
			add(&note, fmt.Sprintf("The photo shows too little of it to tell it from a white board or table, so all pieces may be up to %.0f lighter or darker together than they are said to be.", math.Ceil(1.96*boardSigma*(80+16)/3)))
			add(&advice, "Show a whole sheet of white paper, with its corners; or say where it lies with --card.")
		}
	case has("sheet"):
		s := fmt.Sprintf("Lightness and the colour of the light were set by the white sheet, taken to be %g light, where black is 0 and the purest white 100.", e.lightness)
		if !e.sheetGiven {
			s += " If what lies behind the cloths is not white, say how light it is with --card-lightness, or use --light none."
		}
		add(&note, s)
	case has("ground") && e.pin != nil && e.pin.rough:
		// Of a light cloth, L* 80, the L* that 95 % of an interval spans.
		u := 1.96 * e.pin.sigma * (80 + 16) / 3
		add(&note, fmt.Sprintf("What lies behind the cloths is plain and white or nearly so, and showed how uneven the light was and which colour it had. Whether it is as white as paper or a creamier or greyer cloth cannot be seen, so all pieces of this photo may be up to %.0f lighter or darker together than they are said to be.", math.Ceil(u)))
		add(&advice, "Lay a sheet of white paper in the corner and take it again; or, where you know how light the ground is, say so with --light sheet and --card-lightness.")
	case has("ground") && e.ground.neutral && e.ground.faint:
		add(&note, "What lies behind the cloths is plain, so it showed how uneven the light was. How light it is is not known.")
	case has("ground") && e.ground.neutral:
		add(&note, "What lies behind the cloths is plain and has hardly any colour, so it showed how uneven the light was and which colour it had. How light it is is not known.")
	case has("ground"):
		add(&note, "What lies behind the cloths is plain but coloured, so it showed how uneven the light was, but not which colour the light had or how light things are.")
	}
	if has("slope of the cloth") {
		if e.oneCloth {
			add(&note, "How the light falls off was seen on the cloth itself, which is alike all over.")
		} else {
			add(&note, "How the light falls off was seen inside the pieces themselves.")
		}
	}
	if has("repeated cloths") {
		add(&note, "Patches of one cloth in different places showed how uneven the light was.")
	}
	if has("exposure record") || e.footing != "" {
		add(&note, e.footing)
	}
	if r.Method == "none" && !e.given && !e.gaveUp && e.footing == "" {
		add(&note, "Nothing in the photo tells how light it really is, so it was left as the camera gave it.")
	}
	if c := e.cameraWords(); c != "" {
		add(&note, c)
	}
	if e.spots != nil && e.spots.shade != nil {
		add(&note, "A shadow lies over a part of the photo. It was taken out as it shows on the ground; pieces in it are less sure.")
		add(&advice, "Keep hands and head out of the light.")
	}
	if e.spots != nil && e.spots.gloss != nil {
		add(&note, "The ground shines in one place; a piece that lies there looks lighter than it is.")
		add(&advice, "Turn the table or the lamp until nothing shines.")
	}
	if e.topGraded {
		add(&note, "The top itself gets darker towards one end; that is its own and was left in.")
	}
	if r.Unevenness >= 1.15 && !e.oneCloth && e.Picture != e.Photo.Picture {
		add(&note, fmt.Sprintf("The brightest part of the photo had %.1f times the light of the dimmest.", r.Unevenness))
	}
	if r.Unevenness >= 1.6 {
		add(&advice, "Move away from the lamp, so that all parts get the same light.")
	}
	if c := castWords(r.Cast); c != "" {
		add(&note, c)
	}
	if !e.LevelKnown && !e.given && !e.gaveUp {
		switch {
		case has("exposure record"):
		case e.oneCloth:
			add(&note, "Its lightness cannot be set against that of other photos.")
		case r.Method != "none":
			add(&note, "Pieces of this photo can be compared with each other, but not with those of other photos.")
		}
		if e.footing != "" {
			add(&advice, "Lay a sheet of white paper into a corner of each photo, and every figure has its own footing.")
		} else {
			add(&advice, "Lay a sheet of white paper in the corner and take it again.")
		}
	}
	r.Note, r.Advice = strings.Join(note, " "), strings.Join(unlike(advice), " ")
}

// where says where in a photo of w x h pixels the paper lies.
func (p *paper) where(w, h int) string {
	if p.bears {
		return "that things lie on"
	}
	side := func(at, size float64, low, high string) string {
		switch {
		case at < size/3:
			return low
		case at > 2*size/3:
			return high
		}
		return ""
	}
	across, down := side(p.x, float64(w), "left", "right"), side(p.y, float64(h), "top", "bottom")
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
		s := e.options.Learned
		if s != nil && len(s.Cameras) > 0 && e.options.Camera == nil && !e.given && !IdentityOf(e.Photo.Record).Known() {
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
	from := fmt.Sprintf("from %d photos", len(k.Photos))
	switch {
	case len(k.Photos) == 1 && len(days) == 1:
		from = "on " + day(days[0])
	case len(k.Photos) == 1:
		from = "from one photo"
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
