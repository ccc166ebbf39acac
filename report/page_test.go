package report

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze"
)

// TestPagesToLookAt writes the pages where `go test -artifacts` keeps them.
func TestPagesToLookAt(t *testing.T) {
	dir := t.ArtifactDir()
	s, l, b := sortResult(), layoutResult(), borderResult()
	for _, r := range []*analyze.Result{s, l, b} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, r.Command+".html"), []byte(pageOf(t, r)), 0o644))
	}
	var page bytes.Buffer
	require.NoError(t, WriteDemo(&page, Demo{Title: "The raffle top of the community hall", Intro: "An invented scene: a table of scraps, a top on the wall with mistakes in it, and a border print.",
		Chapters: []*analyze.Result{s, l, b}}, "1.2.3"))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "demo.html"), page.Bytes(), 0o644))
}
