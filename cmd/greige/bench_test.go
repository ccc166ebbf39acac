//go:build unix

package main

import (
	"bytes"
	"cmp"
	"context"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/scene"
	"greige/analyze/scraps"
	"greige/colorspace"
	"greige/report"
)

// twelve is a phone's photo of one cloth, 12 megapixels, and where it lies.
func twelve(b *testing.B) (path string, data []byte) {
	b.Helper()
	cloth := scene.NewCloth("leaves on rust", scene.Sprigs, colorspace.Lab{L: 45, A: 32, B: 30},
		scene.Ink{Lab: colorspace.Lab{L: 85, A: 2, B: 14}, Share: .2})
	shot, err := scene.Closeup{
		Take:  scene.Take{Width: 4032, Height: 3024, Camera: scene.Phone(), Light: scene.Light{Lamp: scene.Window, Ratio: 1.3}, Seed: 12},
		Cloth: cloth,
	}.Shoot()
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	shot.Name = "twelve.jpg"
	if err := scene.Write(dir, shot); err != nil {
		b.Fatal(err)
	}
	path = filepath.Join(dir, shot.Name)
	if data, err = os.ReadFile(path); err != nil {
		b.Fatal(err)
	}
	return path, data
}

// least is the least time of several runs: what the work takes when nothing
// else disturbs it.
func least(runs int, do func()) time.Duration {
	best := time.Hour
	for range runs {
		runtime.GC()
		start := time.Now()
		do()
		best = min(best, time.Since(start))
	}
	return best
}

// sorted runs greige sort, page and figures included.
func sorted(b *testing.B, dir string, args ...string) {
	b.Helper()
	command(b, append([]string{"sort", "--quiet", "--out", filepath.Join(dir, "page.html"), "--json", filepath.Join(dir, "figures.json")}, args...)...)
}

func command(b *testing.B, args ...string) {
	b.Helper()
	if status := run(context.Background(), args, io.Discard, io.Discard); status != statusDone {
		b.Fatalf("greige %s: status %d", strings.Join(args, " "), status)
	}
}

func decoded(b *testing.B, data []byte) image.Image {
	b.Helper()
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		b.Fatal(err)
	}
	return img
}

// versus tells the time of work as a ratio to that of decoding photos alone,
// both the least of several runs, turn and turn about, so that both see the
// same machine.
func versus(b *testing.B, runs int, decode, work func()) (ratio float64, alone time.Duration) {
	b.Helper()
	alone, whole := time.Hour, time.Hour
	for range runs {
		alone = min(alone, least(1, decode))
		whole = min(whole, least(1, work))
	}
	return float64(whole) / float64(alone), alone
}

// peers are the scripts that find a mean L* with other libraries; they take
// how often to do it and the photos, and print the least seconds.
var peers = map[string][]string{
	"opencv":      {"python3", "testdata/peers/opencv_mean.py"},
	"skimage":     {"python3", "testdata/peers/skimage_mean.py"},
	"imagemagick": {"sh", "testdata/peers/imagemagick_mean.sh"},
	"libvips":     {"sh", "testdata/peers/libvips_mean.sh"},
}

// BenchmarkSpeedOnePhoto tells the time of the whole of greige sort on one
// 12-megapixel photo, page and JSON included, as a ratio to decoding that
// photo alone with the same decoder, and the same of its peers, where they
// are installed: a mean L* alone by OpenCV, scikit-image, ImageMagick and
// libvips.
func BenchmarkSpeedOnePhoto(b *testing.B) {
	path, data := twelve(b)
	dir := b.TempDir()
	const runs = 9
	for b.Loop() {
		ratio, decode := versus(b, runs, func() { decoded(b, data) }, func() { sorted(b, dir, "--scraps", "one", path) })
		b.ReportMetric(ratio, "x-decode")
		b.ReportMetric(float64(decode.Milliseconds()), "decode-ms")
		for name, script := range peers {
			if seconds, ok := peer(script, runs, path); ok {
				b.ReportMetric(seconds/decode.Seconds(), name+"-x-decode")
			}
		}
	}
}

// BenchmarkSpeedStages tells where the time of that goes: each room's part as
// a ratio to decoding.
func BenchmarkSpeedStages(b *testing.B) {
	path, data := twelve(b)
	const runs = 9
	for b.Loop() {
		var open, even, measure, find, page time.Duration
		decode := least(runs, func() { decoded(b, data) })
		open, even, measure, find, page = time.Hour, time.Hour, time.Hour, time.Hour, time.Hour
		for range runs {
			var p *photo.Photo
			open = min(open, least(1, func() { p = must(photo.Open(context.Background(), path, photo.Limits{}))(b) }))
			var e *light.Even
			even = min(even, least(1, func() { e = must(light.New(p, light.Options{}, light.OneCloth))(b) }))
			find = min(find, least(1, func() { scraps.Find(e, scraps.How{}) }))
			measure = min(measure, least(1, func() {
				cloth.Measure(e, cloth.Whole(e.Picture.W, e.Picture.H), cloth.View{PixelsPerDegree: 100})
			}))
			r := must(analyze.Sort(context.Background(), []string{path}, analyze.SortOptions{Settings: analyze.Settings{Distance: 2.5}, Piles: 3, Scraps: analyze.ScrapsOne}))(b)
			page = min(page, least(1, func() {
				if err := report.WritePage(io.Discard, r, "bench"); err != nil {
					b.Fatal(err)
				}
			}))
		}
		b.ReportMetric(float64(open)/float64(decode), "decode+reduce-x")
		b.ReportMetric(float64(even)/float64(decode), "light-x")
		b.ReportMetric(float64(measure)/float64(decode), "measure-x")
		b.ReportMetric(float64(find)/float64(decode), "is-it-scraps-x")
		b.ReportMetric(float64(page)/float64(decode), "page-x")
	}
}

func must[T any](v T, err error) func(b *testing.B) T {
	return func(b *testing.B) T {
		if err != nil {
			b.Fatal(err)
		}
		return v
	}
}

// BenchmarkSpeedSet is greige sort on 24 such photos, one and two at a time, where it
// is said that each shows one cloth and where nothing is: photos a second, and the
// ratio to decoding all of them with as many at a time. The peers work through the
// same photos.
func BenchmarkSpeedSet(b *testing.B) {
	_, data := twelve(b)
	folder, dir := b.TempDir(), b.TempDir()
	const photos, runs = 24, 3
	paths := copies(b, folder, data, photos)
	for _, c := range []struct {
		name string
		args []string
		jobs int
	}{
		{"one cloth", []string{"--scraps", "one"}, 1}, {"one cloth", []string{"--scraps", "one"}, 2}, {"nothing said", nil, 1}, {"nothing said", nil, 2},
	} {
		jobs := c.jobs
		b.Run(fmt.Sprintf("%s/jobs=%d", c.name, jobs), func(b *testing.B) {
			for b.Loop() {
				ratio, decode := versus(b, runs, func() {
					var all sync.WaitGroup
					for j := range jobs {
						all.Go(func() {
							for i := j; i < photos; i += jobs {
								if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
									b.Error(err)
								}
							}
						})
					}
					all.Wait()
				}, func() { sorted(b, dir, append(c.args, "--jobs", fmt.Sprint(jobs), folder)...) })
				b.ReportMetric(ratio, "x-decode")
				b.ReportMetric(photos/(ratio*decode.Seconds()), "photos/s")
				for name, script := range peers {
					if seconds, ok := peer(script, 1, paths...); ok {
						b.ReportMetric(seconds/(ratio*decode.Seconds()), name+"-x-greige")
					}
				}
			}
		})
	}
}

// BenchmarkSpeedBorder is greige border with a stash of 30 such photos, as a ratio to
// sorting the same photos.
func BenchmarkSpeedBorder(b *testing.B) {
	path, data := twelve(b)
	folder, dir := b.TempDir(), b.TempDir()
	copies(b, folder, data, 30)
	border := []string{"border", path, "--stash", folder, "--quiet", "--out", filepath.Join(dir, "border.html"), "--json", filepath.Join(dir, "border.json")}
	for b.Loop() {
		ratio, _ := versus(b, 3, func() { sorted(b, dir, folder) }, func() { command(b, border...) })
		b.ReportMetric(ratio, "x-sort")
	}
}

// copies writes n files of the same photo, a comment in each that makes its bytes its
// own, as those of two photos are, and returns their paths.
func copies(b *testing.B, folder string, data []byte, n int) (paths []string) {
	b.Helper()
	if err := os.MkdirAll(folder, 0o755); err != nil {
		b.Fatal(err)
	}
	for i := range n {
		paths = append(paths, filepath.Join(folder, fmt.Sprintf("%04d.jpg", i)))
		comment := []byte{0xff, 0xfe, 0, 4, byte(i >> 8), byte(i)} // behind the file's first marker
		if err := os.WriteFile(paths[i], slices.Concat(data[:2], comment, data[2:]), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	return paths
}

// BenchmarkSpeedGrowth tells how the time grows: with the pixels of a photo,
// with the pieces on a table and with the patches of a top, all at 12
// megapixels; as a ratio to decoding the photo.
func BenchmarkSpeedGrowth(b *testing.B) {
	cloths := scene.AnyCloths(7, 60)
	take := scene.Take{Width: 4032, Height: 3024, Camera: scene.Phone(), Light: scene.Light{Lamp: scene.Window, Ratio: 1.2}, Seed: 3}
	grow := func(name string, args []string, shoot interface{ Shoot() (scene.Shot, error) }) {
		b.Run(name, func(b *testing.B) {
			shot := must(shoot.Shoot())(b)
			dir := b.TempDir()
			if err := scene.Write(dir, shot); err != nil {
				b.Fatal(err)
			}
			args := append(args, "--quiet", "--out", filepath.Join(dir, "page.html"), filepath.Join(dir, shot.Name))
			for b.Loop() {
				ratio, _ := versus(b, 9, func() { decoded(b, shot.Data) }, func() { command(b, args...) })
				b.ReportMetric(ratio, "x-decode")
			}
		})
	}
	for _, side := range []int{1008, 2016, 4032, 8064} {
		t := take
		t.Width, t.Height = side, side*3/4
		grow(fmt.Sprintf("pixels/%.1fMP", float64(t.Width*t.Height)/1e6), []string{"sort", "--scraps", "one"}, scene.Closeup{Take: t, Cloth: cloths[0]})
	}
	for _, n := range []int{15, 30, 60} {
		grow(fmt.Sprintf("pieces/%d", n), []string{"sort"}, scene.Table{Take: take, Cloths: cloths[:n]})
	}
	for _, n := range []int{5, 10, 20, 40} {
		plan := scene.Design{Seed: 4, Repeat: scene.Checkerboard, Rows: n, Cols: n, Lights: []int{0, 1, 2, 3}, Darks: []int{4, 5, 6, 7}}.Plan()
		grow(fmt.Sprintf("patches/%dx%d", n, n), []string{"layout"}, scene.Top{Take: take, Cloths: byLightness(cloths[:8]), Plan: plan, Margin: .06})
	}
	for _, n := range []int{4, 8, 16} {
		plan := scene.Design{Seed: 4, Repeat: scene.Checkerboard, OnPoint: true, Across: n, Down: n, Lights: []int{0, 1, 2, 3}, Darks: []int{4, 5, 6, 7}}.Plan()
		grow(fmt.Sprintf("on point/%dx%d", n, n), []string{"layout"}, scene.Top{Take: take, Cloths: byLightness(cloths[:8]), Plan: plan, Margin: .06})
	}
}

// byLightness puts the lighter half of cloths first.
func byLightness(cloths []scene.Cloth) []scene.Cloth {
	return slices.SortedFunc(slices.Values(cloths), func(a, b scene.Cloth) int { return cmp.Compare(b.Inks[0].Lab.L, a.Inks[0].Lab.L) })
}

// peer runs a peer's script and returns its least time; not ok where what it
// needs is not installed.
func peer(script []string, runs int, photos ...string) (seconds float64, ok bool) {
	// Debian's python3 has Debian's libraries; another one first on the path may not.
	for _, python := range []string{script[0], "/usr/bin/python3"} {
		program := script[0]
		if program == "python3" {
			program = python
		}
		args := append([]string{script[1], fmt.Sprint(runs)}, photos...)
		out, err := exec.Command(program, args...).Output()
		var lightness float64
		if err == nil {
			if _, err := fmt.Sscan(string(out), &seconds, &lightness); err == nil {
				return seconds, true
			}
		}
	}
	return 0, false
}

var most = flag.Int("photos", 100, "the most photos for the memory benchmark")

// watch tells the peak memory of a process in MiB once it has ended, where the
// system shows it while it runs (Linux); else 0. What the system tells of an ended
// process counts this one's memory as well, which it was started from.
func watch(pid int) <-chan float64 {
	told := make(chan float64, 1)
	go func() {
		mib := 0.
		for {
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
			_, peak, ok := strings.Cut(string(status), "VmHWM:")
			if err != nil || !ok { // it has ended, or there is no such thing here
				told <- mib
				return
			}
			var kib float64
			fmt.Sscan(peak, &kib)
			mib = max(mib, kib/(1<<10))
			time.Sleep(5 * time.Millisecond)
		}
	}()
	return told
}

// BenchmarkMemory tells the peak memory of the program on 10, 100 and, if
// asked for, 1000 photos of 12 megapixels, and its ratios.
func BenchmarkMemory(b *testing.B) {
	_, data := twelve(b)
	dir := b.TempDir()
	program := filepath.Join(dir, "greige")
	if out, err := exec.Command("go", "build", "-tags", "nodynamic", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	peak := func(photos int) float64 {
		folder := filepath.Join(dir, fmt.Sprint(photos))
		copies(b, folder, data, photos)
		defer os.RemoveAll(folder)
		c := exec.Command(program, "sort", "--scraps", "one", "--quiet", folder, "--out", filepath.Join(dir, "page.html"))
		var said strings.Builder
		c.Stderr = &said
		if err := c.Start(); err != nil {
			b.Fatal(err)
		}
		own := watch(c.Process.Pid)
		if err := c.Wait(); err != nil {
			b.Fatalf("%v\n%s", err, said.String())
		}
		if mib := <-own; mib > 0 {
			return mib
		}
		usage, ok := c.ProcessState.SysUsage().(*syscall.Rusage)
		if !ok {
			b.Fatal("this system does not tell a program's peak memory")
		}
		if runtime.GOOS == "darwin" { // in bytes there, elsewhere in KiB
			return float64(usage.Maxrss) / (1 << 20)
		}
		return float64(usage.Maxrss) / (1 << 10)
	}
	for b.Loop() {
		ten := peak(10)
		b.ReportMetric(ten, "MiB-at-10")
		for n := 100; n <= *most; n *= 10 {
			b.ReportMetric(peak(n)/ten, fmt.Sprintf("x-10-at-%d", n))
		}
	}
}
