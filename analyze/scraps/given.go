package scraps

import "greige/analyze/cloth"

// Inside is the region that may be measured of a piece whose outline is given
// by hand, in pixels of a working picture of w x h: well inside its edge, as
// for a piece that was found.
func Inside(outline [][2]float64, w, h int) cloth.Region { return inside(outline, w, h) }
