package colorspace

// Temperature is whether a colour comes forward (warm: reds, oranges,
// yellows), goes back (cool: blues, greens) or does neither.
type Temperature string

const (
	Warm    Temperature = "warm"
	Cool    Temperature = "cool"
	Neutral Temperature = "neutral"
)
