package photo

// coding is how luma and chroma make red, green and blue: the luma weights of
// red and blue, and whether the codes use the range of video (luma 16..235,
// chroma 16..240) or all of 0..255. Sources: ITU-T T.871 (JFIF) and ITU-T
// H.273, table 4.
type coding struct {
	red, blue float64
	video     bool
	// direct: the three planes are green, blue and red as they are.
	direct bool
}

var (
	jfif     = coding{red: .299, blue: .114}
	video601 = coding{red: .299, blue: .114, video: true} // WebP: RFC 6386, 9.2
)

// codingFor is the coding of a matrix code point of ITU-T H.273, table 4.
// False means one that is not known here.
func codingFor(matrix int, fullRange bool) (coding, bool) {
	c := coding{video: !fullRange}
	switch matrix {
	case 0:
		c.direct = true
	case 1:
		c.red, c.blue = .2126, .0722
	case 2, 5, 6: // 2 is "unspecified": the usual one of still pictures
		c.red, c.blue = .299, .114
	case 4:
		c.red, c.blue = .30, .11
	case 7:
		c.red, c.blue = .212, .087
	case 9:
		c.red, c.blue = .2627, .0593
	default:
		return jfif, false
	}
	return c, true
}

// steps are a coding's factors in 1/65536 of a code: R = (luma*(Y-black) +
// redCr*(Cr-128)) / 65536 and so on.
type steps struct {
	luma, black                    int32
	redCr, greenCb, greenCr, blueC int32
}

func (c coding) steps() steps {
	luma, chroma, black := 1.0, 1.0, int32(0)
	if c.video {
		luma, chroma, black = 255.0/219, 255.0/224, 16
	}
	green := 1 - c.red - c.blue
	fix := func(v float64) int32 {
		if v < 0 {
			return -int32(-v*65536 + .5)
		}
		return int32(v*65536 + .5)
	}
	return steps{
		luma: fix(luma), black: black,
		redCr:   fix(chroma * 2 * (1 - c.red)),
		greenCb: fix(-chroma * 2 * (1 - c.blue) * c.blue / green),
		greenCr: fix(-chroma * 2 * (1 - c.red) * c.red / green),
		blueC:   fix(chroma * 2 * (1 - c.blue)),
	}
}

func clip8(v int32) uint16 { return uint16(min(max(v, 0), 255)) }
