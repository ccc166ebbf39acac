package analyze

import (
	"sync"

	"greige/analyze/eye"
	"greige/analyze/photo"
)

// View names one of the pictures of a Sight.
type View string

const (
	ColourView View = "colour"
	GreyView   View = "grey"
	SquintView View = "squint"
	ValuesView View = "three" // in three values
)

// sketch makes the views of a picture, each when it is first asked for: after
// something is put right one of them is looked at, and to write all of them takes as
// long as the rest of the answer. Several goroutines may use one.
type sketch struct {
	w, h            int
	picture         func() *photo.Picture // w by h; called as often as it is wanted
	pixelsPerDegree float64               // of the picture
	cuts            []float64             // between the few values, L*

	colour, grey, squint, values sync.Once
	views                        eye.Views
}

func newSketch(w, h int, pixelsPerDegree float64, cuts []float64, picture func() *photo.Picture) *sketch {
	return &sketch{w: w, h: h, picture: picture, pixelsPerDegree: pixelsPerDegree, cuts: cuts, views: eye.Views{W: w, H: h}}
}

// view is one view; nil where there is none of that name.
func (k *sketch) view(v View) []byte {
	switch v {
	case ColourView:
		k.colour.Do(func() { k.views.Colour = eye.Colour(k.picture()) })
		return k.views.Colour
	case GreyView:
		k.grey.Do(func() { k.views.Grey = eye.Grey(k.picture()) })
		return k.views.Grey
	case SquintView:
		k.squint.Do(func() { k.views.AddSquint(k.picture(), k.pixelsPerDegree) })
		return k.views.Squint
	case ValuesView:
		k.view(SquintView)
		k.values.Do(func() { _ = k.views.FewValues(k.cuts) }) // see showPicture
		return k.views.Values
	}
	return nil
}

func (k *sketch) all() eye.Views {
	photo.Both(func() { photo.Both(func() { k.view(ColourView) }, func() { k.view(GreyView) }) }, func() { k.view(ValuesView) })
	return k.views
}

// View is one of the sight's pictures, made now where Settings.Late has put that
// off; nil where there is none.
func (s *Sight) View(v View) []byte {
	if s.late != nil {
		return s.late.view(v)
	}
	return map[View][]byte{ColourView: s.Colour, GreyView: s.Grey, SquintView: s.Squint, ValuesView: s.Values}[v]
}

// Drawn is r with all the pictures that Settings.Late has put off. r stays as it is.
func (r *Result) Drawn() *Result {
	drawn := *r
	drawn.Sights = make([]Sight, len(r.Sights))
	for i, s := range r.Sights {
		if s.late != nil {
			s.Views, s.late = s.late.all(), nil
		}
		drawn.Sights[i] = s
	}
	return &drawn
}
