package colorspace

// Temperature is whether a colour comes forward (warm: reds, oranges,
// yellows), goes back (cool: blues, greens) or does neither.
type Temperature string

const (
	Warm    Temperature = "warm"
	Cool    Temperature = "cool"
	Neutral Temperature = "neutral"
)

// TemperatureOf is the temperature of c.
//
// That reds, oranges and yellows are warm and blues and greens cool is common
// practice, no source; so is where the two meet, which is argued here from
// the colour names of Kelly and Judd 1976, NBS Special Publication 440:
//   - neutral is whatever the system calls a white, a gray or a black, with
//     a tint or without. That ends at Munsell chroma 1.2 to 2 by hue, and at
//     1 in the darks; no one limit of C*ab would do as well.
//   - yellow meets green at 2GY, where the names go over from "greenish
//     yellow" to "yellow green". Yellow green is a green, so cool.
//   - blue meets red by way of purple, which is neither. Violet and purple
//     are named after no red, and lie beside blue: cool, as on the painter's
//     colour wheel. From 9P on the names are "reddish purple" and, where
//     light, "purplish pink": pinks come forward, so warm.
//
// Browns, olives and beiges go with their hue. A colour that is not finite is
// neutral.
func TemperatureOf(c Lab) Temperature {
	const (
		yellowToGreen = 32 // 2GY
		purpleToRed   = 89 // 9P
	)
	m := MunsellOf(c)
	switch {
	case !finite(c) || neutralName(NameNumber(m)):
		return Neutral
	case m.Hue >= yellowToGreen && m.Hue < purpleToRed:
		return Cool
	}
	return Warm
}

// neutralName is whether colour name n, 1..267, is a white, a gray or a
// black.
func neutralName(n int) bool {
	switch n {
	case 9, 92, 153, 189, 231, 263, // whites
		10, 22, 23, 63, 64, 93, 112, 113, 154, 155, 156, 190, 191, 192, 232, 233, 234, 264, 265, 266, // grays
		24, 65, 114, 157, 193, 235, 267: // blacks
		return true
	}
	return false
}
