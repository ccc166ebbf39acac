//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"greige/analyze/scene"
	"greige/colorspace"
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

// BenchmarkSpeedOnePhoto tells the time of the whole of greige sort on one
// 12-megapixel photo, page and JSON included, as a ratio to decoding that
// photo alone with the same decoder, and the same of its peers, where they
// are installed: a mean L* by OpenCV, scikit-image and ImageMagick.
func BenchmarkSpeedOnePhoto(b *testing.B) {
	path, data := twelve(b)
	dir := b.TempDir()
	const runs = 7
	for b.Loop() {
		// Turn and turn about, so that both see the same machine.
		decode, whole := time.Hour, time.Hour
		for range runs {
			decode = min(decode, least(1, func() {
				if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
					b.Fatal(err)
				}
			}))
			whole = min(whole, least(1, func() {
				args := []string{"sort", "--scraps", "one", "--quiet", path,
					"--out", filepath.Join(dir, "page.html"), "--json", filepath.Join(dir, "figures.json")}
				if status := run(context.Background(), args, io.Discard, io.Discard); status != statusDone {
					b.Fatalf("status %d", status)
				}
			}))
		}
		b.ReportMetric(float64(whole)/float64(decode), "x-decode")
		b.ReportMetric(float64(decode.Milliseconds()), "decode-ms")
		for name, command := range map[string][]string{
			"opencv":      {"python3", "testdata/peers/opencv_mean.py"},
			"skimage":     {"python3", "testdata/peers/skimage_mean.py"},
			"imagemagick": {"sh", "testdata/peers/imagemagick_mean.sh"},
		} {
			if seconds, ok := peer(append(command, path, fmt.Sprint(runs))); ok {
				b.ReportMetric(seconds/decode.Seconds(), name+"-x-decode")
			}
		}
	}
}

// peer runs a peer's script and returns its least time; not ok where what it
// needs is not installed.
func peer(command []string) (seconds float64, ok bool) {
	// Debian's python3 has Debian's libraries; another one first on the path may not.
	for _, python := range []string{command[0], "/usr/bin/python3"} {
		if command[0] == "python3" {
			command[0] = python
		}
		out, err := exec.Command(command[0], command[1:]...).Output()
		var lightness float64
		if err == nil {
			if _, err := fmt.Sscan(string(out), &seconds, &lightness); err == nil {
				return seconds, true
			}
		}
	}
	return 0, false
}

// BenchmarkMemory tells the peak memory of the program on 10 and on 100
// photos of 12 megapixels, and its ratio.
func BenchmarkMemory(b *testing.B) {
	_, data := twelve(b)
	dir := b.TempDir()
	program := filepath.Join(dir, "greige")
	if out, err := exec.Command("go", "build", "-tags", "nodynamic", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	peak := func(photos int) float64 {
		folder := filepath.Join(dir, fmt.Sprint(photos))
		if err := os.MkdirAll(folder, 0o755); err != nil {
			b.Fatal(err)
		}
		for i := range photos {
			if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("%03d.jpg", i)), data, 0o644); err != nil {
				b.Fatal(err)
			}
		}
		defer os.RemoveAll(folder)
		c := exec.Command(program, "sort", "--scraps", "one", "--quiet", folder, "--out", filepath.Join(dir, "page.html"))
		var said strings.Builder
		c.Stderr = &said
		if err := c.Run(); err != nil {
			b.Fatalf("%v\n%s", err, said.String())
		}
		usage, ok := c.ProcessState.SysUsage().(*syscall.Rusage)
		if !ok {
			b.Skip("this system does not tell a program's peak memory")
		}
		return float64(usage.Maxrss) / 1024
	}
	for b.Loop() {
		ten, hundred := peak(10), peak(100)
		b.ReportMetric(ten, "MiB-at-10")
		b.ReportMetric(hundred, "MiB-at-100")
		b.ReportMetric(hundred/ten, "x-10")
	}
}
