package analyze

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/scene"
)

// tablePhoto is a table of scraps on disk, and what lies on it.
func tablePhoto(t *testing.T, seed uint64) (string, scene.Shot) {
	t.Helper()
	table := scene.AnyTable(seed)
	table.Width = 900
	s, err := table.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, s))
	return filepath.Join(dir, s.Name), s
}

// spoil writes over a file without the file's looking changed.
func spoil(t *testing.T, path string) {
	t.Helper()
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, make([]byte, info.Size()), 0o600))
	require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
}

func TestSessionGivesWhatAJobGivesAndDecodesOnce(t *testing.T) {
	path, _ := tablePhoto(t, 334)
	plain, err := Sort(t.Context(), []string{path}, SortOptions{})
	require.NoError(t, err)
	s := NewSession(0)
	first, err := s.Sort(t.Context(), []string{path}, SortOptions{})
	require.NoError(t, err)
	require.Equal(t, plain, first)

	sum, err := Source{Path: path}.Sum(photo.Limits{})
	require.NoError(t, err)
	f := plain.Sort.Fabrics
	require.Greater(t, len(f), 4)
	given := &Corrections{Photos: []PhotoCorrections{{SHA256: sum, Pieces: []GivenPiece{
		{f[1].Outline, false}, {Joined(f[2].Outline, f[3].Outline), true},
	}}}}
	opt := SortOptions{Settings: Settings{Corrections: given}}
	plain, err = Sort(t.Context(), []string{path}, opt)
	require.NoError(t, err)
	byNumber, err := Sort(t.Context(), []string{path}, SortOptions{Numbers: Numbers{NotCloth: []int{2}, Join: [][]int{{3, 4}}}})
	require.NoError(t, err)
	require.Equal(t, plain, byNumber)
	var ids []string
	for _, g := range plain.Sort.Fabrics {
		ids = append(ids, g.ID)
	}
	require.Equal(t, []string{"1", "3", "5"}, ids[:3], "the other numbers stay as they are")
	require.Len(t, plain.Sort.Fabrics, len(f)-2)

	spoil(t, path)
	again, err := s.Sort(t.Context(), []string{path}, opt)
	require.NoError(t, err)
	require.Equal(t, plain, again)
	one, err := s.Sort(t.Context(), []string{path}, SortOptions{Settings: Settings{Corrections: given.With(PhotoCorrections{SHA256: sum, Scraps: ScrapsOne})}})
	require.NoError(t, err)
	require.Len(t, one.Sort.Fabrics, 1)
	back, err := s.Sort(t.Context(), []string{path}, SortOptions{})
	require.NoError(t, err)
	require.Equal(t, first, back, "what was put right left no trace")

	_, err = s.Sort(t.Context(), []string{path}, SortOptions{Numbers: Numbers{Cloth: []int{99}}})
	var numbers *NumbersError
	require.ErrorAs(t, err, &numbers)
	// What a session may not keep is measured again.
	small := NewSession(1)
	_, err = small.Sort(t.Context(), []string{path}, SortOptions{})
	require.Error(t, err)
}

func TestSessionOfATopAndAPrint(t *testing.T) {
	top := scene.AnyTop(3)
	top.Width = 480
	shot, err := top.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, shot))
	path := filepath.Join(dir, shot.Name)
	sum, err := Source{Path: path}.Sum(photo.Limits{})
	require.NoError(t, err)
	s := NewSession(0)
	source := Source{Name: path, Path: path}
	seen, err := s.Show(t.Context(), source, photo.Limits{}, 300)
	require.NoError(t, err)
	require.Equal(t, sum, seen.SHA256)
	w, h := float64(seen.Width), float64(seen.Height)
	given := &Corrections{Photos: []PhotoCorrections{{SHA256: sum, At: &[4]float64{10, 10, w / 2, h / 2},
		Grid: &GivenGrid{Corners: [][2]float64{{w / 5, h / 5}, {w * .8, h / 5}, {w * .8, h * .8}, {w / 5, h * .8}}, Rows: 3, Cols: 3, Setting: "straight", Chart: &GivenChart{Rows: []string{"LD", "DL"}}}}}}
	for _, c := range []*Corrections{nil, given} {
		settings := Settings{Corrections: c}
		spare, info := must(os.ReadFile(path)), must(os.Stat(path))
		plain, err := Layout(t.Context(), path, LayoutOptions{Settings: settings})
		require.NoError(t, err)
		printed, err := Border(t.Context(), path, BorderOptions{Settings: settings})
		require.NoError(t, err)
		if c == nil {
			_, err = s.Layout(t.Context(), source, LayoutOptions{})
			require.NoError(t, err)
		} else {
			require.Equal(t, 3, plain.Layout.Rows)
			require.True(t, plain.Layout.Pattern.Given)
		}
		spoil(t, path)
		kept, err := s.Layout(t.Context(), source, LayoutOptions{Settings: settings})
		require.NoError(t, err)
		require.Equal(t, plain, kept)
		kept, err = s.Border(t.Context(), source, BorderOptions{Settings: settings})
		require.NoError(t, err)
		require.Equal(t, printed, kept)
		require.NoError(t, os.WriteFile(path, spare, 0o600))
		require.NoError(t, os.Chtimes(path, info.ModTime(), info.ModTime()))
	}
}

// A correction is measured no further than it reaches: a chart or a swap leaves the
// patches and the straightened top alone, and corners leave the light alone.
func TestSessionMeasuresATopNoFurtherThanACorrectionReaches(t *testing.T) {
	top := scene.AnyTop(3)
	top.Width = 480
	shot, err := top.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, shot))
	path := filepath.Join(dir, shot.Name)
	s := NewSession(0)
	sum, err := Source{Path: path}.Sum(photo.Limits{})
	require.NoError(t, err)
	layoutOf := func(g *GivenGrid, trial ...[]layout.Placement) *Result {
		opt := LayoutOptions{Trial: trial, Settings: Settings{Corrections: &Corrections{Photos: []PhotoCorrections{{SHA256: sum, Grid: g}}}}}
		r, err := s.Layout(t.Context(), Source{Name: path, Path: path}, opt)
		require.NoError(t, err)
		fresh, err := Layout(t.Context(), path, opt)
		require.NoError(t, err)
		require.Equal(t, fresh, r)
		return r
	}
	made := func(what string) (n int) {
		for key := range s.kept {
			if strings.HasPrefix(key, what+" ") {
				n++
			}
		}
		return n
	}
	found := layoutOf(nil)
	layoutOf(&GivenGrid{Chart: &GivenChart{Rows: []string{"LD", "DL"}}})
	a, b := layout.Cell{1, 1}, layout.Cell{2, 1}
	swapped := layoutOf(nil, []layout.Placement{{To: a, From: &b}, {To: b, From: &a}})
	require.NotEqual(t, found.Sights[0].Views.Colour, swapped.Sights[0].Views.Colour)
	for _, what := range []string{"photo", "lit", "top", "patches", "straight"} {
		require.Equal(t, 1, made(what), what)
	}
	corners := slices.Clone(found.Layout.Corners)
	corners[0][0] += 2
	layoutOf(&GivenGrid{Corners: corners})
	require.Equal(t, 2, made("patches"))
	require.Equal(t, 1, made("lit"))
	require.Equal(t, found, layoutOf(nil), "corners left no trace in the light")
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
