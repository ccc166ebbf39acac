package photo

import "sync"

// Spare keeps the memory of working pictures that nobody looks at any more for
// those of further photos: to have it new from the system costs nearly as much
// as averaging the pixels into it. It holds no more pictures than were open at
// once. A nil Spare keeps nothing. Several goroutines may use one.
type Spare struct {
	mu  sync.Mutex
	pix [][]float32
}

// Keep takes the memory of p, which has no pixels from then on. No other
// picture may share them.
func (s *Spare) Keep(p *Picture) {
	if s == nil || len(p.Pix) == 0 {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.pix = append(s.pix, p.Pix)
	p.Pix = nil
}

// components is room for n of them, holding anything.
func (s *Spare) components(n int) []float32 {
	if s == nil {
		return make([]float32, n)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for len(s.pix) > 0 {
		last := len(s.pix) - 1
		pix := s.pix[last]
		s.pix[last], s.pix = nil, s.pix[:last]
		if cap(pix) >= n {
			return pix[:n]
		}
	}
	return make([]float32, n)
}
