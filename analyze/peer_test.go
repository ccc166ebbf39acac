package analyze_test

import (
	"bufio"
	"bytes"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// pythonWithOpenCV is the Python that has OpenCV; "" where none has. Debian's
// has Debian's libraries; another one first on the path may not.
func pythonWithOpenCV() string {
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import cv2, numpy").Run() == nil {
			return python
		}
	}
	return ""
}

// segmented are the outlines of what lies on the ground of a photo by
// testdata/segment.py, in pixels of the upright photo.
func segmented(b *testing.B, python, path string) (outlines [][][2]float64) {
	b.Helper()
	out, err := exec.Command(python, filepath.Join("testdata", "segment.py"), path).Output()
	if err != nil {
		b.Fatal("OpenCV's segmentation failed: ", err)
	}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<24)
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), "photo ") {
			continue
		}
		var outline [][2]float64
		for _, f := range strings.Fields(lines.Text()) {
			var p [2]float64
			if _, err := fmt.Sscanf(f, "%g,%g", &p[0], &p[1]); err != nil {
				b.Fatalf("OpenCV's segmentation wrote %q", f)
			}
			outline = append(outline, p)
		}
		outlines = append(outlines, outline)
	}
	if err := lines.Err(); err != nil {
		b.Fatal(err)
	}
	return outlines
}
