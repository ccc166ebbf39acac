package colorspace

// ReflectanceValue is the light reflectance value (LRV) of a CIE L*: its Y in
// points of 0..100, by which BS 8300-2:2018 annex B judges whether two
// neighbouring surfaces can be told apart (30 points; 20 may do for large
// ones). L* below 0 gives 0.
func ReflectanceValue(lightness float64) float64 { return 100 * LuminanceOf(lightness) }
