package open

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/layout"
	"greige/analyze/piles"
	"greige/analyze/scene"
	"greige/analyze/stash"
	"greige/colorspace"
	"greige/report"
)

func newReader(r io.Reader) *bufio.Reader { return bufio.NewReader(r) }

// send sends what the page sends and gives the state.
func send(t testing.TB, address, path string, body any) state {
	t.Helper()
	data, err := json.Marshal(body)
	require.NoError(t, err)
	status, got, err := try(address, path, "application/json", "", data)
	require.NoError(t, err)
	require.Equal(t, 200, status, got)
	var s state
	require.NoError(t, json.Unmarshal([]byte(got), &s))
	return s
}

func try(address, path, kind, name string, body []byte) (int, string, error) {
	u, err := url.Parse(address)
	if err != nil {
		return 0, "", err
	}
	r, err := http.NewRequest("POST", address+path, bytes.NewReader(body))
	if err != nil {
		return 0, "", err
	}
	r.Header.Set("Origin", "http://"+u.Host)
	r.Header.Set("Content-Type", kind)
	r.Header.Set("X-Name", url.PathEscape(name))
	got, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, "", err
	}
	defer got.Body.Close()
	data, err := io.ReadAll(got.Body)
	return got.StatusCode, string(data), err
}

// now is the state once all is measured.
func now(t testing.TB, address string) state {
	t.Helper()
	for {
		r, err := http.Get(address + "state")
		require.NoError(t, err)
		var s state
		require.NoError(t, json.NewDecoder(r.Body).Decode(&s))
		r.Body.Close()
		if s.Measured {
			return s
		}
		time.Sleep(10 * time.Millisecond)
	}
}

func ids(s state) (out []string) {
	for _, p := range s.Pieces {
		out = append(out, p.ID)
	}
	return out
}

func closeup(seed uint64) scene.Closeup {
	return scene.Closeup{Take: scene.Take{Width: 200, Height: 150, Seed: seed}, Cloth: scene.NewCloth("moss", scene.Solid, colorspace.Lab{L: 40, A: -12, B: 20})}
}

// The page, its keeping and the terminal give the same bytes, and a step back
// is the state before it.
func TestThePageGivesWhatTheTerminalGives(t *testing.T) {
	dir := basket(t, 900)
	address, _, stop := serve(t, Options{Folder: dir, Version: "v"})
	before := now(t, address)
	require.Equal(t, []string{"1", "2", "3", "4", "5", "6"}, ids(before))
	photo := before.Photos[0].ID
	send(t, address, "steps", Step{Kind: "not-cloth", Photo: photo, Pieces: []string{"2"}})
	send(t, address, "steps", Step{Kind: "join", Photo: photo, Pieces: []string{"4", "5"}})
	send(t, address, "steps", Step{Kind: "draw", Photo: photo, Outline: [][2]float64{{740, 420}, {860, 420}, {860, 560}, {740, 560}}})
	after := send(t, address, "question", Question{Kind: "sort", Piles: 2})
	require.Equal(t, []string{"1", "3", "4", "6", "7"}, ids(after))
	require.Contains(t, after.Command, "--piles 2 --corrections ")
	status, _, err := try(address, "keep", "application/json", "", []byte("{}"))
	require.NoError(t, err)
	require.Equal(t, 200, status)

	r, err := analyze.Sort(t.Context(), []string{dir}, analyze.SortOptions{Piles: 2, Settings: analyze.Settings{Corrections: corrections(t, dir)}})
	require.NoError(t, err)
	var page bytes.Buffer
	require.NoError(t, report.WritePage(&page, r, "v"))
	kept, err := os.ReadFile(filepath.Join(dir, "greige-sort.html"))
	require.NoError(t, err)
	require.True(t, bytes.Equal(page.Bytes(), kept))

	for range 3 {
		after = send(t, address, "undo", nil)
	}
	require.Equal(t, ids(before), ids(after))
	require.Empty(t, corrections(t, dir).Photos)
	after = send(t, address, "redo", nil)
	require.Equal(t, []string{"1", "3", "4", "5", "6"}, ids(after))
	// The next start begins where this one ended.
	stop()
	address, _, _ = serve(t, Options{Folder: dir})
	require.Equal(t, ids(after), ids(now(t, address)))
}

// A photo that was asked about as a top is a photo of cloths again in a sort.
func TestAnotherQuestionOfTheSamePhotos(t *testing.T) {
	dir := basket(t, 400)
	write(t, dir, "z.jpg", closeup(1))
	address, _, _ := serve(t, Options{Folder: dir})
	before := now(t, address)
	photo := before.Photos[0].ID
	border := send(t, address, "question", Question{Kind: "border", Photo: photo, Stash: true})
	require.NotNil(t, border.Print)
	require.Len(t, border.Cloths, 1)
	require.Equal(t, ids(before), ids(send(t, address, "question", Question{Kind: "sort", Photo: photo})))
	out := send(t, address, "question", Question{Kind: "sort", Photo: photo, Out: []string{photo}})
	require.Len(t, out.Pieces, 1)
	require.Contains(t, out.Command, "z.jpg")
}

func TestPhotosComeIn(t *testing.T) {
	dir, from := t.TempDir(), t.TempDir()
	good, err := os.ReadFile(write(t, from, "a.jpg", closeup(1)))
	require.NoError(t, err)
	other, err := os.ReadFile(write(t, from, "b.jpg", closeup(2)))
	require.NoError(t, err)
	address, _, _ := serve(t, Options{Folder: dir})
	take := func(name string, data []byte) (int, string) {
		status, said, err := try(address, "photos", "application/octet-stream", name, data)
		require.NoError(t, err)
		return status, said
	}
	status, _ := take("../../basket 1.jpg", good)
	require.Equal(t, 200, status)
	status, _ = take("basket 1.jpg", good)
	require.Equal(t, 200, status, "the same again is not taken twice")
	status, _ = take("basket 1.jpg", other)
	require.Equal(t, 200, status, "another of the same name has another name")
	status, said := take("cut.jpg", good[:len(good)/2])
	require.Equal(t, 422, status)
	require.Contains(t, said, "the picture is cut short")
	status, _ = take("empty.jpg", nil)
	require.Equal(t, 422, status)
	s := now(t, address)
	require.Len(t, s.Photos, 2)
	require.Equal(t, "basket 1-2.jpg", s.Photos[0].Name)
	require.Len(t, s.Left, 2, "what cannot be read is named, and the rest goes on")
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, names, 2)
	kept, err := os.ReadFile(filepath.Join(dir, "basket 1.jpg"))
	require.NoError(t, err)
	require.Equal(t, good, kept)
}

func TestWhatCannotBeKeptIsSaidAndHeld(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("folders are protected in another way there")
	}
	dir := basket(t, 400)
	address, _, _ := serve(t, Options{Folder: dir})
	photo := now(t, address).Photos[0].ID
	// A folder in the file's place cannot be written over, even by root.
	file := filepath.Join(dir, analyze.CorrectionsFile)
	require.NoError(t, os.Mkdir(file, 0o700))
	s := send(t, address, "steps", Step{Kind: "not-cloth", Photo: photo, Pieces: []string{"1"}})
	require.Contains(t, s.Trouble, "is held here and not kept")
	require.NotContains(t, ids(s), "1", "but it holds")
	require.NoError(t, os.Remove(file))
	s = send(t, address, "steps", Step{Kind: "scraps", Photo: photo, Scraps: "many"})
	require.Empty(t, s.Trouble)
	require.Len(t, corrections(t, dir).Photos[0].Pieces, 1, "nothing is lost")
	// Another program's work is not written over.
	require.NoError(t, os.WriteFile(file, []byte("{}"), 0o600))
	s = send(t, address, "steps", Step{Kind: "scraps", Photo: photo})
	require.Contains(t, s.Trouble, "Another program has changed")
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "{}", string(data))
}

func TestStepsThatMakeNoSense(t *testing.T) {
	dir := basket(t, 400)
	address, _, _ := serve(t, Options{Folder: dir})
	photo := now(t, address).Photos[0].ID
	minus := -1
	for says, step := range map[string]Step{
		"no such photo":            {Kind: "anew", Photo: "nobody"},
		"no piece 99":              {Kind: "not-cloth", Photo: photo, Pieces: []string{"99"}},
		"takes other pieces":       {Kind: "join", Photo: photo, Pieces: []string{"1"}},
		"there is no step":         {Kind: "paint", Photo: photo},
		"no such piece":            {Kind: "back", Photo: photo, Removed: &minus},
		"three points":             {Kind: "draw", Photo: photo, Outline: [][2]float64{{0, 0}, {1, 1}}},
		"encloses nothing":         {Kind: "draw", Photo: photo, Outline: [][2]float64{{0, 0}, {9, 9}, {18, 18}}},
		"does not cross":           {Kind: "split", Photo: photo, Pieces: []string{"1"}, Line: [][2]float64{{0, 0}, {0, 1}}},
		"neither width nor height": {Kind: "card", Photo: photo, Box: &[4]float64{1, 1, 0, 5}},
		"one cloth or many":        {Kind: "scraps", Photo: photo, Scraps: "few"},
		"1 to 100":                 {Kind: "grid", Photo: photo, Rows: 900},
		"no top":                   {Kind: "hang"},
	} {
		data, err := json.Marshal(step)
		require.NoError(t, err)
		status, said, err := try(address, "steps", "application/json", "", data)
		require.NoError(t, err)
		assert.Equal(t, 409, status, says)
		assert.Contains(t, said, says)
	}
	require.NoFileExists(t, filepath.Join(dir, analyze.CorrectionsFile))
}

func TestAFileThatDoesNotFitIsRefused(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, analyze.CorrectionsFile), []byte("{\n\"schema\": 1}"), 0o600))
	err := Serve(t.Context(), Options{Folder: dir})
	require.ErrorContains(t, err, "line 2: the schema is a text")
	require.ErrorContains(t, Serve(t.Context(), Options{Folder: filepath.Join(dir, "none")}), "no such folder")
}

func TestAPhotoThatChangedMeanwhile(t *testing.T) {
	dir := basket(t, 400)
	address, _, _ := serve(t, Options{Folder: dir})
	s := now(t, address)
	send(t, address, "steps", Step{Kind: "not-cloth", Photo: s.Photos[0].ID, Pieces: []string{"1"}})
	write(t, dir, "basket.jpg", closeup(3))
	s = send(t, address, "question", Question{Kind: "sort"})
	require.Contains(t, strings.Join(s.Notes, " "), "was changed on the disk and was read again")
	require.Len(t, s.Pieces, 1)
	require.Len(t, corrections(t, dir).Photos[0].Pieces, 1, "what was put right is kept")
}

func TestItEndsWhenAskedAndSaysWhenItsPageWasClosed(t *testing.T) {
	address, log, _ := serve(t, Options{Folder: t.TempDir()})
	r, err := http.Get(address + "events")
	require.NoError(t, err)
	line, err := newReader(r.Body).ReadString('\n')
	require.NoError(t, err)
	require.Contains(t, line, `"rev":`)
	r.Body.Close()
	require.Eventually(t, func() bool { return strings.Contains(log.String(), "the page was closed") }, 20*time.Second, 50*time.Millisecond)
	status, _, err := try(address, "end", "application/json", "", []byte("{}"))
	require.NoError(t, err)
	require.Equal(t, 200, status)
	require.Eventually(t, func() bool { return strings.Contains(log.String(), "ended") }, 20*time.Second, 50*time.Millisecond)
	_, err = http.Get(address)
	require.Error(t, err)
}

// TestServesForAnotherTest is the program that TestKilledAtAnyMoment kills.
func TestServesForAnotherTest(t *testing.T) {
	dir := os.Getenv("GREIGE_SERVES")
	if dir == "" {
		t.Skip("it is started by another test")
	}
	require.NoError(t, Serve(t.Context(), Options{Folder: dir, Stash: os.Getenv("GREIGE_SERVES_STASH"), Opened: func(address string) {
		fmt.Println("at", address)
	}}))
}

// startToKill starts the program in a folder.
func startToKill(t *testing.T, dir, stash string) (c *exec.Cmd, address string) {
	t.Helper()
	c = exec.Command(os.Args[0], "-test.run=^TestServesForAnotherTest$")
	c.Env = append(os.Environ(), "GREIGE_SERVES="+dir, "GREIGE_SERVES_STASH="+stash)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	for lines := bufio.NewScanner(out); address == "" && lines.Scan(); {
		address, _ = strings.CutPrefix(lines.Text(), "at ")
		if !strings.HasPrefix(address, "http") {
			address = ""
		}
	}
	require.NotEmpty(t, address)
	return c, address
}

// pageOf is what a folder keeps of what is asked and tried.
func pageOf(t *testing.T, dir string) (k kept) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, PageFile))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &k))
	return k
}

// photosAreWhole: what was taken is there, and nothing is there by half.
func photosAreWhole(t *testing.T, dir string, taken map[string][]byte) {
	t.Helper()
	for name, data := range taken {
		delete(taken, name)
		there, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.Equal(t, data, there)
	}
	names, err := filepath.Glob(filepath.Join(dir, "*.jpg"))
	require.NoError(t, err)
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, []byte{0xff, 0xd9}, data[len(data)-2:], "a photo is there whole or not at all")
		if filepath.Base(name) != "a.jpg" { // so that the next start has little to measure
			require.NoError(t, os.Remove(name))
		}
	}
}

// Killed at fifty moments, nothing that was told to be kept is lost, and no file
// is half written.
func TestKilledAtAnyMoment(t *testing.T) {
	dir, from := t.TempDir(), t.TempDir()
	write(t, dir, "a.jpg", closeup(1))
	var photos [][]byte
	for i := range 4 {
		data, err := os.ReadFile(write(t, from, fmt.Sprint(i, ".jpg"), closeup(uint64(10+i))))
		require.NoError(t, err)
		photos = append(photos, data)
	}
	moments := rand.New(rand.NewPCG(1, 2))
	last, sent := 0, 0      // steps that were told to be kept, and that were sent
	answered, asked := 0, 0 // the same of questions
	taken := map[string][]byte{}
	took := 100 * time.Millisecond
	rounds := 50
	if testing.Short() {
		rounds = 8
	}
	for round := range rounds {
		c, address := startToKill(t, dir, "")
		// In the middle of one of the first requests, whatever the machine is
		// doing: at a random share of what such a request last took.
		spared := moments.IntN(3)
		var kill *time.Timer
		for n := 0; ; n++ {
			if n == spared {
				kill = time.AfterFunc(time.Duration(moments.Float64()*1.2*float64(took)), func() { _ = c.Process.Kill() })
			}
			began := time.Now()
			if n%3 == 1 {
				name, data := fmt.Sprintf("r%d-%d.jpg", round, n), photos[moments.IntN(len(photos))]
				status, _, err := try(address, "photos", "application/octet-stream", name, data)
				if err != nil {
					break
				}
				require.Equal(t, 200, status)
				took, taken[name] = time.Since(began), data
				continue
			}
			if n%3 == 2 {
				asked++
				status, said, err := try(address, "question", "application/json", "", fmt.Appendf(nil, `{"kind":"sort","piles":%d}`, 3-asked%2))
				if err != nil {
					break
				}
				require.Equal(t, 200, status, said)
				answered = asked
				continue
			}
			sent++
			step, err := json.Marshal(Step{Kind: "card", Photo: idOf(filepath.Join(dir, "a.jpg")), Box: &[4]float64{1, 1, 20, 20}, Light: 1 + float64(sent)/1000})
			require.NoError(t, err)
			status, said, err := try(address, "steps", "application/json", "", step)
			if err != nil {
				break
			}
			require.Equal(t, 200, status, said)
			took, last = time.Since(began), sent
		}
		kill.Stop()
		_ = c.Process.Kill()
		_ = c.Wait() // it was killed
		if last > 0 {
			kept := int(corrections(t, dir).Photos[0].CardLightness*1000+.5) - 1000
			require.GreaterOrEqual(t, kept, last, "killed %d times", round+1)
			require.LessOrEqual(t, kept, sent)
		}
		if answered > 0 && answered == asked { // nothing was asked since that may be kept or not
			require.Equal(t, 3-answered%2, pageOf(t, dir).Question.Piles, "what is asked is kept as well")
		}
		photosAreWhole(t, dir, taken)
	}
	require.Positive(t, last)
	t.Logf("%d steps were kept, %d sent", last, sent)
}

// greysKept makes a stash of n greys, each a metre square, from dark to light.
func greysKept(t *testing.T, file string, n int) {
	t.Helper()
	s, err := stash.Create(file)
	require.NoError(t, err)
	p := stash.Photo{Name: "a.jpg", Added: time.Unix(1.7e9, 0)}
	for i := range n {
		l := colorspace.Lab{L: 20 + float64(i)}
		p.Fabrics = append(p.Fabrics, piles.Fabric{Scrap: i + 1, AreaCM2: 1e4, Cloth: cloth.Cloth{Lab: l, Lightness: l.L, Uncertainty: 2, Apart: .5, Character: cloth.Solid, Name: "light gray", Colours: []cloth.Colour{{Lab: l, Hex: "#888888", Share: 1}}}})
	}
	_, err = s.Add(t.Context(), []stash.Photo{p})
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

// The same of what is tried with a top, two patches swapped and another cloth hung, and
// of what is done on the wall: a piece cut from one cloth, and others taken out.
func TestKilledWhileTrying(t *testing.T) {
	dir, file := t.TempDir(), filepath.Join(t.TempDir(), "stash.db")
	top := scene.AnyTop(3)
	top.Width = 400
	write(t, dir, "wall.jpg", top)
	wall := idOf(filepath.Join(dir, "wall.jpg"))
	const cloths = 60
	greysKept(t, file, cloths)
	address, _, stop := serve(t, Options{Folder: dir, Stash: file})
	send(t, address, "question", Question{Kind: "layout", Photo: wall, Kept: true})
	stop()

	moments := rand.New(rand.NewPCG(5, 6))
	var told, sent struct{ hung, cut, out int }
	took := 100 * time.Millisecond
	rounds := 16
	if testing.Short() {
		rounds = 4
	}
	for round := range rounds {
		c, address := startToKill(t, dir, file)
		now(t, address) // what is killed are the steps
		spared := moments.IntN(4)
		var kill *time.Timer
		for n := 0; n < 40; n++ {
			if n == spared {
				kill = time.AfterFunc(time.Duration(moments.Float64()*1.2*float64(took)), func() { _ = c.Process.Kill() })
			}
			count, done, where, body := &sent.hung, &told.hung, "steps", `{"kind":"hang","to":[1,1],"from":[1,2]}`
			switch n % 4 {
			case 1:
				body = `{"kind":"hang","to":[2,1],"cloth":"60"}`
			case 2:
				count, done, where, body = &sent.cut, &told.cut, "stash/use", `{"id":"60","area":1}`
			case 3:
				count, done, where, body = &sent.out, &told.out, "stash/drop", fmt.Sprintf(`{"ids":["%d"]}`, sent.out+1)
			}
			*count++
			began := time.Now()
			status, said, err := try(address, where, "application/json", "", []byte(body))
			if err != nil {
				break
			}
			require.Equal(t, 200, status, said)
			took, *done = time.Since(began), *count
		}
		kill.Stop()
		_ = c.Process.Kill()
		_ = c.Wait() // it was killed
		hung := 0
		for _, tried := range pageOf(t, dir).Tried {
			hung += len(tried.Hung)
		}
		s, err := stash.Open(file)
		require.NoError(t, err)
		left, _, err := s.Count(t.Context())
		require.NoError(t, err)
		last, err := s.Get(t.Context(), []string{"60"})
		require.NoError(t, err)
		require.NoError(t, s.Close())
		for _, k := range []struct {
			what           string
			told, is, sent int
			count          *int
		}{{"moves", told.hung, hung, sent.hung, &sent.hung}, {"cuts", told.cut, int(math.Round(last[0].UsedCM2)), sent.cut, &sent.cut}, {"cloths out", told.out, cloths - left, sent.out, &sent.out}} {
			require.GreaterOrEqual(t, k.is, k.told, "%s, killed %d times", k.what, round+1)
			require.LessOrEqual(t, k.is, k.sent, k.what)
			*k.count = k.is // what was sent last may be there or not
		}
		told = sent
	}
	require.Positive(t, min(told.hung, told.cut, told.out), "%+v", told)
}

// What is tried outlives the program as what is put right does: swaps, another
// cloth hung, dropped colours, chosen cloths and the question itself; also where
// another photo has changed the cloths' numbers meanwhile.
func TestWhatIsTriedIsKeptToo(t *testing.T) {
	dir := basket(t, 700)
	top := scene.AnyTop(3)
	top.Width = 700
	write(t, dir, "wall.jpg", top)
	print := scene.AnyBorder(5)
	print.Width = 700
	write(t, dir, "border.jpg", print)
	wall, border := idOf(filepath.Join(dir, "wall.jpg")), idOf(filepath.Join(dir, "border.jpg"))
	address, _, stop := serve(t, Options{Folder: dir})
	now(t, address)
	require.NoFileExists(t, filepath.Join(dir, PageFile), "looking keeps nothing")
	send(t, address, "question", Question{Kind: "layout", Photo: wall, Stash: true, Out: []string{border}})
	a, b := layout.Cell{1, 1}, layout.Cell{1, 2}
	send(t, address, "steps", Step{Kind: "hang", To: &a, From: &b})
	tops := send(t, address, "steps", Step{Kind: "hang", To: &b, Cloth: "2"})
	require.Equal(t, 2, tops.Top.Tried)
	before := send(t, address, "question", Question{Kind: "border", Photo: border, Stash: true, Out: []string{wall}})
	send(t, address, "steps", Step{Kind: "colour", Colour: new(int)})
	chosen := send(t, address, "steps", Step{Kind: "choose", Chosen: []string{"2", "4"}})
	require.True(t, chosen.Print.Colours[0].Out)
	stop()

	// Its cloths come before all others.
	write(t, dir, "a.jpg", closeup(1))
	address, _, stop = serve(t, Options{Folder: dir})
	s := now(t, address)
	require.Equal(t, Question{Kind: "border", Photo: border, Stash: true, Out: []string{wall}}, s.Question)
	require.Equal(t, before.Print.Colours[0].Hex, s.Print.Colours[0].Hex)
	require.True(t, s.Print.Colours[0].Out)
	require.True(t, s.Print.Own)
	var took []string
	for _, c := range s.Print.Chosen {
		took = append(took, c.ID)
	}
	require.ElementsMatch(t, []string{"3", "5"}, took)
	again := send(t, address, "question", Question{Kind: "layout", Photo: wall, Stash: true, Out: []string{border}})
	require.Equal(t, 2, again.Top.Tried)
	require.Equal(t, tops.Top.Patches, again.Top.Patches)
	// A cloth that is left out hangs nowhere, and is not forgotten.
	none := send(t, address, "question", Question{Kind: "layout", Photo: wall, Stash: true, Out: []string{border, idOf(filepath.Join(dir, "basket.jpg"))}})
	require.NotEqual(t, tops.Top.Patches, none.Top.Patches)
	again = send(t, address, "question", Question{Kind: "layout", Photo: wall, Stash: true, Out: []string{border}})
	require.Equal(t, tops.Top.Patches, again.Top.Patches)
	stop()

	file := filepath.Join(dir, PageFile)
	for says, text := range map[string]string{"unknown field": `{"schema":"greige-open/1","question":{"kind":"sort"},"more":1}`, "its schema": `{"schema":"greige-open/3","question":{"kind":"sort"}}`, "no such question": `{"schema":"greige-open/1","question":{"kind":"bake"}}`} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		require.ErrorContains(t, Serve(t.Context(), Options{Folder: dir}), says)
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, text, string(data), "it is left alone")
	}
}

// The steps outlive the program: what was put right and tried is taken back, and done
// again, after the next start, to the same files; beside another file of corrections
// they are forgotten.
func TestStepsAreTakenBackAfterTheNextStart(t *testing.T) {
	dir := basket(t, 700)
	top := scene.AnyTop(3)
	top.Width = 500
	write(t, dir, "wall.jpg", top)
	basketID, wall := idOf(filepath.Join(dir, "basket.jpg")), idOf(filepath.Join(dir, "wall.jpg"))
	address, _, stop := serve(t, Options{Folder: dir})
	right := func() string {
		data, err := os.ReadFile(filepath.Join(dir, analyze.CorrectionsFile))
		require.NoError(t, err)
		return string(data)
	}
	type kept struct {
		right string
		undo  string
		tried int
	}
	var was []kept
	note := func(s state) {
		k := kept{right: right(), undo: s.Undo}
		if s.Top != nil {
			k.tried = s.Top.Tried
		}
		was = append(was, k)
	}
	note(send(t, address, "steps", Step{Kind: "not-cloth", Photo: basketID, Pieces: []string{"2"}}))
	note(send(t, address, "steps", Step{Kind: "join", Photo: basketID, Pieces: []string{"3", "4"}}))
	send(t, address, "question", Question{Kind: "layout", Photo: wall})
	a, b := layout.Cell{1, 1}, layout.Cell{1, 2}
	note(send(t, address, "steps", Step{Kind: "hang", To: &a, From: &b}))
	note(send(t, address, "steps", Step{Kind: "chart", Photo: wall, Chart: []string{"LD", "DL"}}))
	send(t, address, "undo", struct{}{})
	stop()

	turn := func(where string, i int) {
		t.Helper()
		s := send(t, address, where, struct{}{})
		require.JSONEq(t, was[i].right, right())
		require.Equal(t, was[i].undo, s.Undo)
		if i > 1 {
			require.Equal(t, was[i].tried, s.Top.Tried)
		}
	}
	address, _, stop = serve(t, Options{Folder: dir})
	require.Equal(t, "what the patches are meant to be", now(t, address).Redo)
	turn("undo", 1)
	turn("undo", 0)
	stop()
	address, _, stop = serve(t, Options{Folder: dir})
	turn("redo", 1)
	turn("redo", 2)
	turn("redo", 3)
	require.Empty(t, now(t, address).Redo)
	turn("undo", 2)
	stop()
	file := filepath.Join(dir, PageFile)
	page := string(readAll(t, file))
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(page, `"of":"`, `"of":"0`, 1)), 0o600))
	address, _, stop = serve(t, Options{Folder: dir})
	s := now(t, address)
	require.Empty(t, s.Undo+s.Redo, "they led to another file")
	require.JSONEq(t, was[2].right, right(), "and what was put right stays")
	require.Equal(t, was[2].tried, s.Top.Tried)
	stop()
}

// However long the history is, the file stays small, and the newest steps are in it.
func TestTheKeptHistoryIsBounded(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "a.jpg", closeup(1))
	w, err := newWorkspace(t.Context(), Options{Folder: dir})
	require.NoError(t, err)
	defer w.close()
	id := idOf(w.photos[0].Name)
	outline := make([][2]float64, 6000)
	for i := range outline {
		outline[i] = [2]float64{100 + 50*math.Cos(float64(i)/400), 100 + 50*math.Sin(float64(i)/1000)}
	}
	const steps = 16
	for i := range steps {
		outline[0][0] += .5
		require.NoError(t, w.do(t.Context(), Step{Kind: "draw", Photo: id, Outline: slices.Clone(outline)}), i)
	}
	data := readAll(t, filepath.Join(dir, PageFile))
	require.Less(t, len(data), 2*mostStepBytes)
	k := pageOf(t, dir)
	require.Greater(t, len(k.History.Done), 3)
	require.Less(t, len(k.History.Done), steps)
	other, err := newWorkspace(t.Context(), Options{Folder: dir})
	require.NoError(t, err)
	defer other.close()
	require.Equal(t, len(k.History.Done), other.at)
	require.NoError(t, other.undo(-1))
	require.Equal(t, w.history[w.at-1].corrections, other.now().corrections)
}

func readAll(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}
