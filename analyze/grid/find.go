package grid

import "greige/analyze/photo"

// Find is where the patches lie in p, which is a picture in linear light of
// about 1 to 4 megapixels, its light evened or not. What hints give is taken.
// Wrong hints are an *Error.
func Find(p *photo.Picture, hints Hints) (*Grid, error) {
	if hints.Corners != nil && hints.Rows > 0 && hints.Cols > 0 {
		return FromCorners(p.W, p.H, hints.Corners, hints.Rows, hints.Cols, hints.Setting)
	}
	return nil, &Error{"the patches cannot be found without being told where they are", "give --rows, --cols and --corners"}
}
