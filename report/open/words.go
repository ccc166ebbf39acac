package open

import (
	"regexp"
	"slices"
	"strings"
)

// onPage says with the page's own tools what the sentences of a result say with flags
// and commands. A sentence, or a part of one behind a semicolon, that still names a flag
// is left out, where another stays.
func onPage(s string) string {
	s = flagWords.Replace(s)
	if !aFlag.MatchString(s) {
		return s
	}
	for _, end := range []string{"; ", ". "} {
		rest := slices.DeleteFunc(strings.SplitAfter(s, end), aFlag.MatchString)
		if len(rest) > 0 {
			s = strings.TrimSuffix(strings.TrimSpace(strings.Join(rest, "")), ";")
		}
	}
	return s
}

var aFlag = regexp.MustCompile(`--[a-z]|greige (sort|layout|border|stash|camera) `)

var flagWords = strings.NewReplacer(
	"give --rows, --cols and --corners if they are wrong", "put them right if they are wrong",
	"give --rows and --cols if they are wrong", "put them right if they are wrong",
	"give --corners if they are wrong", "put them right if they are wrong",
	"give --rows, --cols and --corners", "show where they are",
	"check --rows and --cols, and give --corners too", "look at their numbers, and show the corners",
	"give both --rows and --cols", "say how many there are of both",
	"give --rows and --cols too, and check --corners", "say how many rows and columns there are, and look at the corners",
	"check --rows, --cols and --corners", "look at their numbers and at the corners",
	"give that number as --rows and as --cols", "say so many rows and columns",
	"or give --setting straight", "or say that it is straight",
	"and check --rows and --corners", "and look at the corners",
	"and check --cols and --corners", "and look at the corners",
	"Give --corners clockwise from the top left if that is not meant", "Put them clockwise from the top left if that is not meant",
	"where the corners lie, with --rows, --cols and --corners", "where the corners lie, under Where the patches are",
	"say how light it is with --card-lightness, or use --light none", "show a card that is",
	"or say with --card-lightness how light the ground is", "or show the ground as a card and say how light it is",
	"say so with --light sheet and --card-lightness", "show it as a card and say how light it is",
	"say where with --card X,Y,W,H", "show it with Show the card",
	"say where it lies with --card", "show where it lies",
	"check --card X,Y,W,H", "look where the card was shown",
	"sort it by itself with --scraps many", "say that it shows several cloths",
	"say so with --scraps many", "say that it shows several cloths",
	"say so with --scraps one", "say that it shows one cloth",
	"ask for their lights and darks instead: greige sort PHOTO", "ask for their lights and darks instead",
	"; for loose scraps, greige sort is the command", "; for loose scraps, ask for their lights and darks",
	"the place given with --at", "the part that was shown",
	"Give photos of your cloths with --stash to see", "Tick your other photos, or your stash, as cloths to see",
	", or raise the limit with --max-megapixels", "",
	": greige stash drop PHOTO", "",
	" (--width)", "",
)

func allOnPage(says []string) []string {
	out := make([]string, len(says)) // never nil: the page counts them
	for i, s := range says {
		out[i] = onPage(s)
	}
	return out
}
