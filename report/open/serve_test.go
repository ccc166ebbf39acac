package open

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/scene"
)

// said keeps what the server says.
type said struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// serve serves a folder until the test ends, or stop is called; it returns when
// the server has ended.
func serve(t testing.TB, opt Options) (address string, log *said, stop func()) {
	t.Helper()
	log = &said{}
	opt.Log = log
	ctx, cancel := context.WithCancel(context.Background())
	at, done := make(chan string, 1), make(chan error, 1)
	opt.Opened = func(a string) { at <- a }
	go func() { done <- Serve(ctx, opt) }()
	select {
	case address = <-at:
	case err := <-done:
		t.Fatal(err)
	}
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			require.NoError(t, <-done)
		})
	}
	t.Cleanup(stop)
	return address, log, stop
}

// write takes a photo into a folder.
func write(t testing.TB, dir, name string, take interface{ Shoot() (scene.Shot, error) }) string {
	t.Helper()
	s, err := take.Shoot()
	require.NoError(t, err)
	if name != "" {
		s.Name = name
	}
	require.NoError(t, scene.Write(dir, s))
	return filepath.Join(dir, s.Name)
}

// basket is a folder with a photo of scraps on a sheet.
func basket(t testing.TB, width int) string {
	t.Helper()
	table := scene.AnyTable(334)
	table.Width = width
	dir := t.TempDir()
	write(t, dir, "basket.jpg", table)
	return dir
}

// corrections are those that a folder keeps.
func corrections(t testing.TB, dir string) *analyze.Corrections {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, analyze.CorrectionsFile))
	require.NoError(t, err)
	c, err := analyze.ReadCorrections(strings.NewReader(string(data)))
	require.NoError(t, err)
	return c
}
