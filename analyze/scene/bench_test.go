package scene

import "testing"

// A photo of 3 megapixels on one core; about a second is the aim.
func BenchmarkTable3MP(b *testing.B) {
	t := Table{Take: Take{Seed: 1, Width: 2000, Height: 1500, Camera: Phone(), Light: Light{Lamp: Bulb, Ratio: 1.7, Kelvin: 3500, Balance: .7}}, WidthCM: 80, Ground: Backdrop{Ground: Mat}, Cloths: append(cloths(), cloths()...)}
	bench(b, t.Shoot)
}

func BenchmarkTop3MP(b *testing.B) {
	t := Top{
		Take: Take{Seed: 1, Width: 2000, Height: 1500, Camera: Phone(), Light: Light{Lamp: Window, Ratio: 1.7}, View: View{Tilt: 8}}, Ground: Backdrop{Ground: Flannel},
		Cloths: cloths(), Plan: Design{Repeat: NinePatch, Rows: 9, Cols: 12, Alternate: true, Lights: []int{2, 4}, Darks: []int{3, 5, 8}}.Plan(), Wobble: .08, Margin: .06,
	}
	bench(b, t.Shoot)
}

func BenchmarkCloseup3MP(b *testing.B) {
	bench(b, Closeup{Take: Take{Seed: 1, Width: 2000, Height: 1500, Camera: Phone()}, Cloth: cloths()[5], Wrinkle: .02}.Shoot)
}

func bench(b *testing.B, shoot func() (Shot, error)) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := shoot(); err != nil {
			b.Fatal(err)
		}
	}
}
