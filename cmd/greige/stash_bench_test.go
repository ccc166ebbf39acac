//go:build unix

package main

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/piles"
	"greige/analyze/scene"
	"greige/analyze/stash"
	"greige/colorspace"
)

// largeStash makes a stash of n cloths, five a photo, one photo in ten of unknown
// level, with pictures cut out of real texture, and gives its file and the cloths.
func largeStash(b *testing.B, n int) (path string, cloths []piles.Fabric) {
	b.Helper()
	path = filepath.Join(b.TempDir(), "stash.db")
	s, err := stash.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	pictures := somePictures(b)
	r := rand.New(rand.NewPCG(1, uint64(n)))
	var photos []stash.Photo
	for len(cloths) < n {
		p := stash.Photo{Hash: sha256.Sum256(fmt.Append(nil, len(cloths))), Name: fmt.Sprintf("photos/%d.jpg", len(cloths)), Added: time.Unix(1.7e9, 0), WidthCM: 60,
			Light: light.Record{Method: "sheet"}}
		for i := range min(5, n-len(cloths)) {
			f := someCloth(r)
			f.Scrap, f.Swatch = i+1, pictures[r.IntN(len(pictures))]
			if len(photos)%10 == 9 {
				f.Uncertainty, f.Group = 20, len(photos)+1
			}
			f.ID = fmt.Sprint(len(cloths) + 1)
			p.Fabrics = append(p.Fabrics, f)
			cloths = append(cloths, f)
		}
		photos = append(photos, p)
	}
	if _, err := s.Add(context.Background(), photos); err != nil {
		b.Fatal(err)
	}
	return path, cloths
}

// somePictures are small pictures as sort makes them.
func somePictures(b *testing.B) []*cloth.Swatch {
	b.Helper()
	shots, err := scene.Demo(1, 0)
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	if err := scene.Write(dir, shots...); err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(dir, "some.db")
	command(b, "stash", "add", filepath.Join(dir, "basket.jpg"), "--quiet", "--stash-file", file)
	s, err := stash.Open(file)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	all, err := s.Cloths(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	var out []*cloth.Swatch
	for _, f := range all {
		p, err := s.Picture(context.Background(), f.ID)
		if err != nil || p == nil {
			b.Fatal("no picture of ", f.ID, err)
		}
		out = append(out, p)
	}
	return out
}

func someCloth(r *rand.Rand) piles.Fabric {
	colour := func() colorspace.Lab {
		h, c := 2*math.Pi*r.Float64(), 45*r.Float64()
		return colorspace.Lab{L: 12 + 80*r.Float64(), A: c * math.Cos(h), B: c * math.Sin(h)}
	}
	l := colour()
	f := piles.Fabric{AreaCM2: 30 + 500*r.Float64(), Cloth: cloth.Cloth{Lab: l, Lightness: l.L, Uncertainty: 1 + 3*r.Float64(), Apart: .5, MunsellValue: l.L / 10,
		Spread: 6 * r.Float64(), Character: cloth.Solid, Temperature: colorspace.TemperatureOf(l), Name: colorspace.Name(l), LooksLike: l.L + 2}}
	for range 60 {
		f.Outline = append(f.Outline, [2]float64{math.Round(4e5*r.Float64()) / 100, math.Round(3e5*r.Float64()) / 100})
	}
	inks := 1 + r.IntN(7)
	if inks > 1 {
		f.Character = cloth.Print
	}
	for range inks {
		k := colour()
		f.Colours = append(f.Colours, cloth.Colour{Lab: k, Hex: k.Linear().Hex(), Share: 1 / float64(inks), Name: colorspace.Name(k)})
	}
	return f
}

const manyCloths = 10_000

// scan is the plainest find there is: all cloths, in memory, looked through and
// sorted.
func scan(cloths []piles.Fabric, fits func(f *piles.Fabric) bool, by func(f *piles.Fabric) float64) int {
	type hit struct {
		at int
		by float64
	}
	var hits []hit
	for i := range cloths {
		if fits(&cloths[i]) {
			hits = append(hits, hit{i, by(&cloths[i])})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return cmp.Compare(a.by, b.by) })
	return len(hits)
}

// BenchmarkSpeedFind tells the time of each find in 10,000 cloths, in ms, and as
// a ratio to a plain scan of the same figures that are in memory already.
func BenchmarkSpeedFind(b *testing.B) {
	path, cloths := largeStash(b, manyCloths)
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	pink := colorspace.Lab{L: 75, A: 25, B: 5}
	all := func(*piles.Fabric) bool { return true }
	darkness := func(f *piles.Fabric) float64 { return -f.Lightness }
	nearness := func(f *piles.Fabric) float64 {
		d := colorspace.CIEDE2000(f.Lab, pink)
		for i := range f.Colours {
			d = min(d, colorspace.CIEDE2000(f.Colours[i].Lab, pink))
		}
		return d
	}
	near := []stash.Target{{Lab: pink}}
	for _, c := range []struct {
		name string
		q    stash.Query
		fits func(f *piles.Fabric) bool
		by   func(f *piles.Fabric) float64
	}{
		{"all", stash.Query{}, all, darkness},
		{"light", stash.Query{Piles: []piles.Pile{piles.Light}}, func(f *piles.Fabric) bool { return f.Lightness > 65 }, darkness},
		{"lightness", stash.Query{From: 40, To: 60}, func(f *piles.Fabric) bool { return f.Lightness >= 40 && f.Lightness <= 60 }, darkness},
		{"near", stash.Query{Near: near}, all, nearness},
		{"light-near", stash.Query{Near: near, Piles: []piles.Pile{piles.Light}}, func(f *piles.Fabric) bool { return f.Lightness > 65 }, nearness},
		{"name", stash.Query{Name: "pink"}, func(f *piles.Fabric) bool { return slices.Contains(strings.Fields(f.Name), "pink") }, darkness},
		{"solid", stash.Query{Character: "solid"}, func(f *piles.Fabric) bool { return f.Character == cloth.Solid }, darkness},
		{"at-least", stash.Query{AtLeastCM2: 200}, func(f *piles.Fabric) bool { return f.AreaCM2 >= 200 }, darkness},
	} {
		b.Run(c.name, func(b *testing.B) {
			found, plain := time.Hour, time.Hour
			for range 7 {
				s, err := stash.Open(path)
				if err != nil {
					b.Fatal(err)
				}
				found = min(found, least(1, func() {
					if f, err := s.Find(context.Background(), c.q); err != nil || len(f.Hits) == 0 {
						b.Fatal(len(f.Hits), err)
					}
				}))
				s.Close()
				plain = min(plain, least(1, func() {
					if scan(cloths, c.fits, c.by) == 0 {
						b.Fatal("nothing")
					}
				}))
			}
			b.ReportMetric(float64(found.Microseconds())/1e3, "ms")
			b.ReportMetric(float64(found)/float64(plain), "x-of-plain-scan")
			b.ReportMetric(float64(info.Size())/1e6, "MB-file")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// program builds greige into dir and gives its path.
func program(b *testing.B, dir string) string {
	b.Helper()
	path := filepath.Join(dir, "greige")
	if out, err := exec.Command("go", "build", "-tags=nodynamic", "-o", path, ".").CombinedOutput(); err != nil {
		b.Fatal(string(out))
	}
	return path
}

// BenchmarkSpeedAddToStash tells the time of adding one photo to a stash of
// 10,000 cloths as a ratio to sorting the same photo, page and JSON included, each as
// a program of its own.
func BenchmarkSpeedAddToStash(b *testing.B) {
	path, _ := largeStash(b, manyCloths)
	photo, _ := twelve(b)
	dir := b.TempDir()
	greige := program(b, dir)
	run := func(args ...string) time.Duration {
		return least(1, func() {
			if out, err := exec.Command(greige, append(args, "--quiet", photo)...).CombinedOutput(); err != nil {
				b.Fatal(string(out), err)
			}
		})
	}
	adding, sorting := time.Hour, time.Hour
	for range 7 {
		sorting = min(sorting, run("sort", "--scraps", "one", "--out", filepath.Join(dir, "page.html"), "--json", filepath.Join(dir, "figures.json")))
		adding = min(adding, run("stash", "add", "--scraps", "one", "--stash-file", path))
		run("stash", "drop", "--stash-file", path)
	}
	b.ReportMetric(float64(adding)/float64(sorting), "x-of-sort")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkSpeedBorderOfStash tells the time and the memory of greige border with
// a kept stash of 100 and of 10,000 cloths, page and JSON included, as a program
// of its own.
func BenchmarkSpeedBorderOfStash(b *testing.B) {
	shots, err := scene.Demo(1, 0)
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	if err := scene.Write(dir, shots...); err != nil {
		b.Fatal(err)
	}
	greige := program(b, dir)
	var alone float64
	for _, n := range []int{0, 100, manyCloths} {
		file := filepath.Join(dir, "none.db")
		if n > 0 {
			file, _ = largeStash(b, n)
		}
		for _, args := range [][]string{
			{"border", filepath.Join(dir, "border.jpg"), "--out", filepath.Join(dir, "page.html"), "--json", filepath.Join(dir, "figures.json")},
			{"stash", "find", "--light", "--near", "pink", "--at-least", "300", "--json", filepath.Join(dir, "figures.json")},
			{"stash", "find", "--out", filepath.Join(dir, "page.html"), "--json", filepath.Join(dir, "figures.json")},
		} {
			if n == 0 && args[0] == "stash" {
				continue
			}
			b.Run(fmt.Sprintf("%s-%s-%d", args[0], strings.TrimPrefix(args[2], "--"), n), func(b *testing.B) {
				wall, cpu, peak := time.Hour, time.Hour, int64(0)
				for range 5 {
					c := exec.Command(greige, append(args, "--quiet", "--stash-file", file)...)
					var said bytes.Buffer
					c.Stdout, c.Stderr = io.Discard, &said
					wall = min(wall, least(1, func() {
						if err := c.Run(); err != nil {
							b.Fatal(err, said.String())
						}
					}))
					use := c.ProcessState.SysUsage().(*syscall.Rusage)
					cpu = min(cpu, c.ProcessState.UserTime())
					peak = max(peak, use.Maxrss)
				}
				if n == 0 {
					alone = float64(wall)
				}
				b.ReportMetric(float64(wall.Milliseconds()), "ms")
				b.ReportMetric(float64(cpu.Milliseconds()), "cpu-ms")
				if args[0] == "border" {
					b.ReportMetric(float64(wall)/alone, "x-of-no-stash")
				}
				b.ReportMetric(float64(peak)/1024, "MB-peak")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}
