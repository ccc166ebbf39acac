package open

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What the rooms say with flags, the page says with its own tools.
func TestThePageNamesItsOwnTools(t *testing.T) {
	for said, want := range map[string]string{
		"Where the patches lie is not sure: 13 rows and 17 columns are a guess. Look at the lines drawn over the photo, and give --rows, --cols and --corners if they are wrong.": "Where the patches lie is not sure: 13 rows and 17 columns are a guess. Look at the lines drawn over the photo, and put them right if they are wrong.",
		"If the photo shows loose scraps and no top, ask for their lights and darks instead: greige sort PHOTO.":                                                                  "If the photo shows loose scraps and no top, ask for their lights and darks instead.",
		"If what lies behind the cloths is not white, say how light it is with --card-lightness, or use --light none.":                                                            "If what lies behind the cloths is not white, show a card that is.",
		"a.jpg: it was taken for one cloth. If it does show scraps, sort it by itself with --scraps many.":                                                                        "a.jpg: it was taken for one cloth. If it does show scraps, say that it shows several cloths.",
		"how much there is of it is not known (--width)":                                                                                                                          "how much there is of it is not known",
		"no patches were found; give --rows, --cols and --corners; for loose scraps, greige sort is the command":                                                                  "no patches were found; show where they are; for loose scraps, ask for their lights and darks",
		"the photo is too large; save it smaller; try --invented":                                                                                                                 "the photo is too large; save it smaller",
		"give --rows and --cols too, and check --corners; or take the photo from nearer":                                                                                          "say how many rows and columns there are, and look at the corners; or take the photo from nearer",
		"It is dark. Try it with --invented. It is so.":                                                                                                                           "It is dark. It is so.",
		"Try it with --invented.":      "Try it with --invented.",
		"Nothing to change -- at all.": "Nothing to change -- at all.",
	} {
		require.Equal(t, want, onPage(said))
	}
}
