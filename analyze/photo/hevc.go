package photo

// sequence is what the sequence parameter set of an HEVC picture says
// (ITU-T H.265, 7.3.2.2 and annex E).
type sequence struct {
	width, height int // after the conformance window
	chroma        int // 0 grey, 1 4:2:0, 2 4:2:2, 3 4:4:4
	bits          int
	// fullRange and matrix come from the video usability information;
	// matrix is -1 where it says nothing.
	fullRange         bool
	primaries, curve  int // 2 where it says nothing
	matrix            int
	codedWidth, coded int // before the window: what the decoder takes memory for
}

// bitReader reads the payload of a parameter set, from the highest bit on. It
// gives zeros after its end and remembers that it did.
type bitReader struct {
	data []byte
	pos  int // in bits
	past bool
}

func (b *bitReader) bits(n int) int {
	v := 0
	for range n {
		v <<= 1
		if b.pos>>3 >= len(b.data) {
			b.past = true
			continue
		}
		v |= int(b.data[b.pos>>3]>>(7-b.pos&7)) & 1
		b.pos++
	}
	return v
}

func (b *bitReader) flag() bool { return b.bits(1) == 1 }

func (b *bitReader) skip(n int) {
	b.pos += n
	if b.pos > 8*len(b.data) {
		b.past = true
	}
}

// golomb reads an unsigned Exp-Golomb number (H.265, 9.2).
func (b *bitReader) golomb() int {
	zeros := 0
	for !b.flag() {
		if zeros++; b.past || zeros > 31 {
			b.past = true
			return 0
		}
	}
	return 1<<zeros - 1 + b.bits(zeros)
}

// parameterSet finds the first sequence parameter set (NAL type 33) in a
// decoder configuration record (ISO/IEC 14496-15, 8.3.3.1) and takes out the
// bytes that keep its payload from looking like a start code.
func parameterSet(record []byte) []byte {
	if len(record) < 23 {
		return nil
	}
	arrays := int(record[22])
	rest := record[23:]
	for range arrays {
		if len(rest) < 3 {
			return nil
		}
		typ, n := rest[0]&63, int(rest[1])<<8|int(rest[2])
		rest = rest[3:]
		for range n {
			if len(rest) < 2 {
				return nil
			}
			size := int(rest[0])<<8 | int(rest[1])
			if size > len(rest)-2 {
				return nil
			}
			unit := rest[2 : 2+size]
			rest = rest[2+size:]
			if typ != 33 || size < 4 {
				continue
			}
			out := make([]byte, 0, size)
			for i, c := range unit[2:] {
				if u := unit[2:]; c == 3 && i >= 2 && u[i-1] == 0 && u[i-2] == 0 {
					continue
				}
				out = append(out, c)
			}
			return out
		}
	}
	return nil
}

// readSequence reads a sequence parameter set; false when it is broken or of
// a kind that no still picture uses.
func readSequence(set []byte) (sequence, bool) {
	b := &bitReader{data: set}
	s := sequence{matrix: -1, primaries: 2, curve: 2, fullRange: true}
	b.skip(4)
	layers := b.bits(3)
	b.skip(1)
	if !skipLevels(b, layers) {
		return s, false
	}
	b.golomb() // id
	s.chroma = b.golomb()
	separate := s.chroma == 3 && b.flag()
	w, h := b.golomb(), b.golomb()
	s.codedWidth, s.coded = w, h
	s.width, s.height = w, h
	if b.flag() { // the conformance window, in chroma samples
		left, right, top, bottom := b.golomb(), b.golomb(), b.golomb(), b.golomb()
		ux, uy := 1, 1
		if s.chroma == 1 || s.chroma == 2 {
			ux = 2
		}
		if s.chroma == 1 {
			uy = 2
		}
		s.width -= ux * (left + right)
		s.height -= uy * (top + bottom)
	}
	s.bits = 8 + b.golomb()
	b.golomb() // chroma bits
	if b.past || separate || s.chroma > 3 || s.bits > 16 || s.width <= 0 || s.height <= 0 || w > 1<<16 || h > 1<<16 {
		return s, false
	}
	s.usability(b, layers)
	return s, true
}

// skipLevels passes over profile, tier and level (7.3.3).
func skipLevels(b *bitReader, layers int) bool {
	b.skip(88 + 8)
	if layers == 0 {
		return !b.past
	}
	var profile, level [8]bool
	for i := range layers {
		profile[i], level[i] = b.flag(), b.flag()
	}
	b.skip(2 * (8 - layers))
	for i := range layers {
		if profile[i] {
			b.skip(88)
		}
		if level[i] {
			b.skip(8)
		}
	}
	return !b.past
}

// usability reads on to the video usability information. What cannot be read
// leaves the defaults.
func (s *sequence) usability(b *bitReader, layers int) {
	orderBits := b.golomb() + 4
	from := layers
	if b.flag() {
		from = 0
	}
	for range layers - from + 1 {
		b.golomb()
		b.golomb()
		b.golomb()
	}
	for range 6 { // block sizes and depths
		b.golomb()
	}
	if b.flag() { // scaling lists are used
		if b.flag() { // and given here
			skipScalingLists(b)
		}
	}
	b.skip(2)
	if b.flag() { // pulse code modulation
		b.skip(8)
		b.golomb()
		b.golomb()
		b.skip(1)
	}
	sets := b.golomb()
	if b.past || sets > 64 || !skipReferenceSets(b, sets) {
		return
	}
	if b.flag() { // long-term references
		n := b.golomb()
		if n > 32 {
			return
		}
		b.skip(n * (orderBits + 1))
	}
	b.skip(2)
	if !b.flag() || b.past {
		return
	}
	if b.flag() && b.bits(8) == 255 { // shape of a pixel
		b.skip(32)
	}
	if b.flag() { // overscan
		b.skip(1)
	}
	if !b.flag() || b.past {
		return
	}
	b.skip(3)
	full, described := b.flag(), b.flag()
	primaries, curve, matrix := 2, 2, 2
	if described {
		primaries, curve, matrix = b.bits(8), b.bits(8), b.bits(8)
	}
	if !b.past {
		s.fullRange, s.primaries, s.curve, s.matrix = full, primaries, curve, matrix
	}
}

// skipScalingLists passes over scaling_list_data (7.3.4).
func skipScalingLists(b *bitReader) {
	for size := range 4 {
		step := 1
		if size == 3 {
			step = 3
		}
		for m := 0; m < 6; m += step {
			if !b.flag() {
				b.golomb()
				continue
			}
			if size > 1 {
				b.golomb()
			}
			for range min(64, 1<<(4+size<<1)) {
				b.golomb()
			}
			if b.past {
				return
			}
		}
	}
}

// skipReferenceSets passes over the short-term reference picture sets (7.3.7).
func skipReferenceSets(b *bitReader, sets int) bool {
	var deltas [65]int // NumDeltaPocs
	for i := range sets {
		if i > 0 && b.flag() { // predicted from the one before
			b.skip(1)
			b.golomb()
			n := 0
			for range deltas[i-1] + 1 {
				used := b.flag()
				use := true
				if !used {
					use = b.flag()
				}
				if used || use {
					n++
				}
			}
			deltas[i] = n
		} else {
			negative, positive := b.golomb(), b.golomb()
			if negative > 16 || positive > 16 {
				return false
			}
			for range negative + positive {
				b.golomb()
				b.skip(1)
			}
			deltas[i] = negative + positive
		}
		if b.past || deltas[i] > 32 {
			return false
		}
	}
	return true
}
