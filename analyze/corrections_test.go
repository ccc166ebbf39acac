package analyze

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/scraps"
)

const sumOfA = "00000000000000000000000000000000000000000000000000000000000000aa"

func TestCorrectionsAreReadAsTheyAreWritten(t *testing.T) {
	c := &Corrections{Photos: []PhotoCorrections{
		{Photo: "a <b>.jpg", SHA256: sumOfA, Scraps: ScrapsMany, Card: &[4]float64{1, 2, 3, 4}, CardLightness: 49.5, At: &[4]float64{0, 0, 9.5, 9},
			Pieces: []GivenPiece{{[][2]float64{{0, 0}, {10, 0}, {10.25, 10}}, true}, {[][2]float64{{0, 0}, {10, 0}, {10, 10}}, false}},
			Grid:   &GivenGrid{Corners: [][2]float64{{0, 0}, {9, 0}, {9, 9}, {0, 9}}, Rows: 3, Cols: 4, Setting: layout.OnPoint, Chart: &GivenChart{Rows: []string{"LD", "DL"}}}},
		{SHA256: strings.Repeat("b", 64), Grid: &GivenGrid{Chart: &GivenChart{Name: "nine-patch"}}},
	}}
	var b bytes.Buffer
	require.NoError(t, c.Write(&b))
	again, err := ReadCorrections(&b)
	require.NoError(t, err)
	require.Equal(t, c, again)
	require.Equal(t, c.Photos[0], c.Of(sumOfA))
	require.True(t, c.Of("c").Empty())
	require.Len(t, c.With(PhotoCorrections{SHA256: sumOfA}).Photos, 1, "what says nothing is left out")
	b.Reset()
	require.NoError(t, (*Corrections)(nil).Write(&b))
	none, err := ReadCorrections(&b)
	require.NoError(t, err)
	require.True(t, none.empty())
}

func TestCorrectionsThatDoNotFitAreRefusedWithTheLine(t *testing.T) {
	const head = "{\"schema\": \"greige-corrections/1\",\n\"photos\": [\n"
	photo := func(rest string) string { return head + "{\"sha256\": \"" + sumOfA + "\",\n" + rest + "\n}]}" }
	for _, c := range []struct {
		file, says string
		line       int
	}{
		{"", "ends too early", 1},
		{"{\n\"photos\": [\n]\n", "ends too early", 4},
		{"[]", "the file is an object", 1},
		{"{\"photos\": []}", "no field \"schema\"", 1},
		{"{\n\"schema\": \"greige/1\"}", "the schema is \"greige-corrections/1\"", 2},
		{head + "]}\n{}", "something follows", 4},
		{head + "{}\n]}", "no field \"sha256\"", 3},
		{head + "{\"sha256\": \"12\"}\n]}", "64 hexadecimal digits", 3},
		{photo("\"scraps\": \"auto\""), "\"one\" or \"many\", not \"auto\"", 4},
		{photo("\"crop\": 1"), "no field \"crop\"", 4},
		{photo("\"card\": [1, 2,\n3]"), "card has 4 numbers", 5},
		{photo("\"card\": [1, 2, 3, 0]"), "neither width nor height", 4},
		{photo("\"card_lightness\":\n 101"), "0 to 100, not 101", 5},
		{photo("\"at\": \"all\""), "a list in [ ]", 4},
		{photo("\"pieces\": [\n{\"cloth\": true}]"), "no outline", 5},
		{photo("\"pieces\": [\n{\"outline\": [[0,0],[1,0],[1,1]], \"cloth\": true}]"), "the outline encloses nothing", 5},
		{photo("\"pieces\": [\n{\"outline\": [[0,0],[9,0],[9,9]]}]"), "whether it is cloth", 5},
		{photo("\"pieces\": [\n{\"outline\": [[0,0],\n[9,0]], \"cloth\": true}]"), "3 points or more, not 2", 6},
		{photo("\"pieces\": [\n{\"outline\": [[0,0],[9,0],[9,\n1e7]], \"cloth\": true}]"), "outside of any photo", 6},
		{photo("\"pieces\": [\n{\"outline\": [[0,0],[9,0],[9,9]], \"cloth\": \"yes\"}]"), "true or false", 5},
		{photo("\"grid\": {\"rows\": 2.5}"), "whole number", 4},
		{photo("\"grid\": {\"rows\": 101}"), "1 to 100", 4},
		{photo("\"grid\": {\"corners\": [[0,0],[1,0],[1,1]]}"), "4 points or more, not 3", 4},
		{photo("\"grid\": {\"setting\": \"askew\"}"), "\"straight\" or \"on-point\"", 4},
		{photo("\"grid\": {\"chart\": [\"LD\",\n\"LX\"]}"), "no letter of a chart", 5},
		{photo("\"grid\": {\"chart\": 7}"), "a list of rows, or a name", 4},
		{photo("\"photo\": \"a\", \"photo\": \"b\""), "stands twice", 4},
		{head + "{\"sha256\": \"" + sumOfA + "\"},\n{\"sha256\": \"" + sumOfA + "\"}]}", "in the file twice", 4},
		{photo("\"photo\": nil"), "no JSON", 4},
	} {
		_, err := ReadCorrections(strings.NewReader(c.file))
		var e *CorrectionsError
		if assert.ErrorAs(t, err, &e, c.file) {
			assert.Contains(t, e.Reason, c.says, c.file)
			assert.Equal(t, c.line, e.Line, "%s: %s", c.file, e.Reason)
		}
	}
}

func FuzzReadCorrections(f *testing.F) {
	f.Add([]byte("{\"schema\": \"greige-corrections/1\", \"photos\": [{\"sha256\": \"" + sumOfA + "\", \"grid\": {\"chart\": [\"LD\"]}}]}"))
	f.Add([]byte("{\"schema\": \"greige-corrections/1\", \"photos\": [{\"sha256\": \"" + sumOfA + "\", \"pieces\": [{\"outline\": [[0,0],[9,0],[9,9]], \"cloth\": false}]}]}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadCorrections(bytes.NewReader(data))
		if err != nil {
			return
		}
		var b bytes.Buffer
		require.NoError(t, c.Write(&b))
		again, err := ReadCorrections(&b)
		require.NoError(t, err)
		require.Equal(t, len(c.Photos), len(again.Photos))
	})
}

func square(x, y, side float64) [][2]float64 {
	return [][2]float64{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}}
}

func TestGivenPiecesTakeThePlaceOfFoundOnes(t *testing.T) {
	p := &photo.Photo{Picture: photo.New(100, 100), Reduction: 2, Width: 200, Height: 200}
	var found []scraps.Piece
	for _, o := range [][][2]float64{square(10, 10, 20), square(40, 10, 20), square(70, 10, 20), square(10, 60, 20)} {
		found = append(found, scraps.Piece{Outline: o, Region: scraps.Inside(o, 100, 100), Doubtful: true})
	}
	numbers := func(given ...GivenPiece) (out []int) {
		pieces, n, _ := putRight(found, given, p, nil)
		require.Equal(t, 4, n)
		for _, q := range pieces {
			out = append(out, q.number)
		}
		return out
	}
	require.Equal(t, []int{1, 2, 3, 4}, numbers())
	require.Equal(t, []int{1, 3, 4}, numbers(GivenPiece{square(80, 20, 40), false}), "no cloth")
	// Several under one outline become one, and the others keep their numbers.
	both := GivenPiece{[][2]float64{{20, 20}, {120, 20}, {120, 60}, {20, 60}}, true}
	require.Equal(t, []int{1, 3, 4}, numbers(both))
	// Less than half of either is another piece, with a number behind all.
	require.Equal(t, []int{1, 2, 3, 4, 0}, numbers(GivenPiece{square(54, 54, 20), true}))
	// Two halves of one: the first has its number.
	left, right := Split(square(20, 20, 40), [2]float64{40, 0}, [2]float64{40, 9})
	require.Equal(t, []int{1, 2, 3, 4, 0}, numbers(GivenPiece{left, true}, GivenPiece{right, true}))
	// As it was found, but cloth: the region is the found one's.
	pieces, _, _ := putRight(found, []GivenPiece{{square(20, 20, 40), true}}, p, nil)
	require.Equal(t, found[0].Region, pieces[0].Region)
	require.False(t, pieces[0].Doubtful)
	require.True(t, pieces[0].given)
	require.True(t, pieces[1].Doubtful)
}

func TestOutlinesJoinedAndSplit(t *testing.T) {
	a, b := square(0, 0, 10), square(20, 0, 10)
	require.InDelta(t, 300, area(Joined(a, b)), 1e-9, "with what lies between them")
	// The bay on a's far side stays one.
	bay := [][2]float64{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {5, 5}}
	require.InDelta(t, 300-25, area(Joined(bay, b)), 1e-9)
	require.InDelta(t, 300-25, area(Joined(b, bay)), 1e-9)
	require.InDelta(t, 100, area(Joined(a, square(2, 2, 3))), 1e-9)
	left, right := Split(a, [2]float64{4, -5}, [2]float64{4, 20})
	require.InDelta(t, 100, area(left)+area(right), 1e-9)
	require.InDelta(t, 40, math.Min(area(left), area(right)), 1e-9)
	left, right = Split(a, [2]float64{40, 0}, [2]float64{40, 9})
	require.True(t, (left == nil) != (right == nil), "the line misses it")
}

func TestOptionsThatMakeNoSense(t *testing.T) {
	for says, opt := range map[string]SortOptions{
		"the piles are 2 or 3":           {Piles: 4},
		"the scraps are auto, one":       {Scraps: "few"},
		"patches are cut in centimetres": {PatchCM: -1},
		"the distance is in metres":      {Settings: Settings{Distance: -2}},
		"the width is in centimetres":    {Settings: Settings{WidthCM: math.NaN()}},
		"the jobs are 1 or more":         {Settings: Settings{Jobs: -1}},
	} {
		_, err := SortPhotos(t.Context(), nil, opt)
		require.ErrorContains(t, err, says)
	}
	for says, opt := range map[string]LayoutOptions{
		"the rows and the columns": {Rows: -1}, "four corners": {Corners: square(0, 0, 9)[:3]}, "the setting is": {Setting: "askew"},
		"a seam is lost under 9": {Lost: 9, Soft: 8},
	} {
		_, err := Layout(t.Context(), "none.jpg", opt)
		require.ErrorContains(t, err, says)
	}
	_, err := Border(t.Context(), "none.jpg", BorderOptions{Choose: 21})
	require.ErrorContains(t, err, "centre fabrics to choose")
	// The zero value is of use.
	var nothing *ErrNothing
	_, err = SortPhotos(t.Context(), nil, SortOptions{})
	require.True(t, errors.As(err, &nothing))
}
