package light

// plane is y = a + b u + c v by least squares.
type plane struct {
	m    [3][4]float64 // normal equations
	coef [3]float64
}

func (p *plane) add(u, v, y float64) {
	row := [4]float64{1, u, v, y}
	for i := range 3 {
		for j := range 4 {
			p.m[i][j] += row[i] * row[j]
		}
	}
}

// solve fits the plane; false when its points do not span one.
func (p *plane) solve() bool {
	m := p.m
	for j := range 3 {
		if m[j][j] < 1e-9*(1+p.m[0][0]) {
			return false
		}
		for i := j + 1; i < 3; i++ {
			q := m[i][j] / m[j][j]
			for k := j; k < 4; k++ {
				m[i][k] -= q * m[j][k]
			}
		}
	}
	for j := 2; j >= 0; j-- {
		p.coef[j] = m[j][3]
		for k := j + 1; k < 3; k++ {
			p.coef[j] -= m[j][k] * p.coef[k]
		}
		p.coef[j] /= m[j][j]
	}
	return true
}

func (p *plane) at(u, v float64) float64 { return p.coef[0] + p.coef[1]*u + p.coef[2]*v }
