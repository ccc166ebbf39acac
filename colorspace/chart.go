package colorspace

// ChartRows and ChartCols are how the 24 patches of the colour rendition chart lie
// (McCamy, Marcus and Davidson 1976, Journal of Applied Photographic Engineering).
const ChartRows, ChartCols = 4, 6

// ChartWhite is the index of the white patch in ChartPatches.
const ChartWhite = 18

// ChartPatches returns the CIELAB colours of the 24-patch colour rendition chart under
// D50, 2 degree observer, row by row from the brown patch in the top left corner: the
// maker's figures of 2005. testdata/published has the table and its sources. A patch
// of a chart that was used for years differs by some .5 to 1.5.
func ChartPatches() [ChartRows * ChartCols]Lab { return chartPatches }

var chartPatches = [ChartRows * ChartCols]Lab{
	{37.986, 13.555, 14.059},   // dark skin
	{65.711, 18.130, 17.810},   // light skin
	{49.927, -4.880, -21.925},  // blue sky
	{43.139, -13.095, 21.905},  // foliage
	{55.112, 8.844, -25.399},   // blue flower
	{70.719, -33.397, -0.199},  // bluish green
	{62.661, 36.067, 57.096},   // orange
	{40.020, 10.410, -45.964},  // purplish blue
	{51.124, 48.239, 16.248},   // moderate red
	{30.325, 22.976, -21.587},  // purple
	{72.532, -23.709, 57.255},  // yellow green
	{71.941, 19.363, 67.857},   // orange yellow
	{28.778, 14.179, -50.297},  // blue
	{55.261, -38.342, 31.370},  // green
	{42.101, 53.378, 28.190},   // red
	{81.733, 4.039, 79.819},    // yellow
	{51.935, 49.986, -14.574},  // magenta
	{51.038, -28.631, -28.638}, // cyan
	{96.539, -0.425, 1.186},    // white 9.5
	{81.257, -0.638, -0.335},   // neutral 8
	{66.766, -0.734, -0.504},   // neutral 6.5
	{50.867, -0.153, -0.270},   // neutral 5
	{35.656, -0.421, -1.231},   // neutral 3.5
	{20.461, -0.079, -0.973},   // black 2
}
