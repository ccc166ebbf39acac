package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
	"greige/colorspace"
)

// onePhoto writes a photo of one cloth into a folder of its own.
func onePhoto(t *testing.T) string {
	t.Helper()
	shot, err := scene.Closeup{
		Take:  scene.Take{Width: 400, Height: 300, Camera: scene.Phone(), Seed: 5},
		Cloth: scene.NewCloth("moss", scene.Solid, colorspace.Lab{L: 40, A: -12, B: 20}),
	}.Shoot()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, scene.Write(dir, shot))
	return filepath.Join(dir, shot.Name)
}

func TestStoppedLeavesNothing(t *testing.T) {
	photo := onePhoto(t)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	for _, args := range [][]string{{"sort", photo}, {"layout", photo}, {"border", photo}} {
		out := t.TempDir()
		var said bytes.Buffer
		status := run(ctx, append(args, "--out", filepath.Join(out, "page.html"), "--json", filepath.Join(out, "figures.json")), io.Discard, &said)
		assert.Equal(t, statusInterrupted, status)
		assert.Equal(t, "greige: stopped; nothing was written\n", said.String())
		left, err := os.ReadDir(out)
		require.NoError(t, err)
		assert.Empty(t, left)
	}
}

func TestAPipeThatCloses(t *testing.T) {
	photo := onePhoto(t)
	for _, args := range [][]string{{"--json", "-", "--quiet"}, {"--csv", "-", "--quiet"}, nil} {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, r.Close())
		var said bytes.Buffer
		page := filepath.Join(t.TempDir(), "page.html")
		status := run(context.Background(), append([]string{"sort", "--scraps", "one", photo, "--out", page}, args...), w, &said)
		assert.Equal(t, statusNothing, status)
		assert.Equal(t, "greige: standard output: what reads it stopped before everything was written\n", said.String())
		assert.FileExists(t, page, "the page is whole all the same")
		w.Close()
	}
}
