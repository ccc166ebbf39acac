package colorspace

// AdaptationBradford is the matrix that takes tristimulus values under the
// white from to what looks alike under the white to, by a full von Kries
// adaptation in the sharpened cone space "Bradford".
// Source: Lam 1985, as in CIECAM97s and ICC.1 annex E.
func AdaptationBradford(from, to XYZ) Matrix {
	return adaptation(Matrix{
		{.8951, .2664, -.1614},
		{-.7502, 1.7135, .0367},
		{.0389, -.0685, 1.0296},
	}, from, to)
}

// adaptation scales each cone's signal by what the two whites give it.
func adaptation(cones Matrix, from, to XYZ) Matrix {
	f := cones.Apply([3]float64{from.X, from.Y, from.Z})
	t := cones.Apply([3]float64{to.X, to.Y, to.Z})
	return cones.Inverse().Mul(Matrix{{t[0] / f[0]}, {0, t[1] / f[1]}, {0, 0, t[2] / f[2]}}).Mul(cones)
}

// Adapt is x under the other white; m is one of the matrices above.
func (x XYZ) Adapt(m Matrix) XYZ {
	v := m.Apply([3]float64{x.X, x.Y, x.Z})
	return XYZ{v[0], v[1], v[2]}
}
